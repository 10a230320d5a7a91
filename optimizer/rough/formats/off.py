"""OFF scans: text, with normals (N) and colours (C) of the corner points where the first word says
so; colours of faces are not read."""

import re

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints
from optimizer.rough.formats.polygons import fan
from optimizer.rough.formats.scan import Scan, srgb
from optimizer.rough.formats.text import numbers, plain, row_lengths, whole

_COMMENT = re.compile(rb"#.*")
_HEAD = re.compile(rb"\s*(C?N?|NC)OFF\s+(\d{1,15})[ \t]+(\d{1,15})(?:[ \t]+\d+)?[ \t]*(?:\n|$)")
_MOST_EXTRA = 4  # numbers behind a face's corners: its colour


def read_off(data: bytes, name: str) -> Scan:
    """Read the bytes of an OFF file. Raises InputError where it is cut short or garbled."""
    text = plain(data, name)
    if b"#" in text:
        text = _COMMENT.sub(b"", text)
    head = _HEAD.match(text)
    if head is None:
        raise InputError(
            f"{name}: the file does not begin with OFF, COFF, NOFF or CNOFF and the numbers of "
            "points and faces; it is another kind or damaged, save the scan again"
        )
    points, faces = int(head[2]), int(head[3])
    lines = [line for line in text[head.end() :].split(b"\n") if line.strip()]
    if len(lines) != points + faces:
        raise InputError(
            f"{name}: the file claims {points:,} points and {faces:,} faces but has {len(lines):,} "
            "lines for them; it is cut short or damaged, save the scan again"
        )
    vertices, colours = _points(b"\n".join(lines[:points]), head[1], name)
    triangles, split = _faces(b"\n".join(lines[points:]), name)
    return Scan(vertices, triangles, split, colours)


def _points(text: bytes, kind: bytes, name: str) -> tuple[Floats, Floats | None]:
    """Corner points (n, 3) and their colours, which stand last on the line."""
    before = 6 if b"N" in kind else 3
    widths = (before + 3, before + 4) if b"C" in kind else (before,)
    lengths = row_lengths(text)
    if not len(lengths) or (lengths != lengths[0]).any() or lengths[0] not in widths:
        wanted = " or ".join(str(width) for width in widths)
        raise InputError(
            f"{name}: not every point line of this {kind.decode()}OFF file has {wanted} numbers; "
            "the file is damaged, save the scan again"
        )
    rows = numbers(text, name, "a point line").reshape(-1, lengths[0])
    if b"C" not in kind:
        return rows[:, :3], None
    colours = rows[:, before : before + 3]
    # Programs write shares of 1 as well as whole numbers up to 255.
    full = 255.0 if (colours > 1.0).any() and (colours == np.round(colours)).all() else 1.0
    return rows[:, :3], srgb(colours, full, name)


def _faces(text: bytes, name: str) -> tuple[Ints, int]:
    values, lengths = numbers(text, name, "a face line"), row_lengths(text)
    first = np.cumsum(lengths) - lengths
    corners = whole(values[first])
    extra = lengths - 1 - corners
    if not ((extra >= 0) & (extra <= _MOST_EXTRA)).all():
        raise InputError(
            f"{name}: a face line does not have as many corners as it begins with; the file is "
            "damaged, save the scan again"
        )
    place = np.arange(len(values)) - np.repeat(first, lengths)
    named = (place >= 1) & (place <= np.repeat(corners, lengths))
    return fan(whole(values[named]), corners, name)
