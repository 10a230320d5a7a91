"""OBJ scans: corner points (v), with colours where all have them, and faces (f).

Textures, materials and groups are not read.
"""

import re

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints
from optimizer.rough.formats.polygons import fan
from optimizer.rough.formats.scan import Scan, srgb
from optimizer.rough.formats.text import numbers, plain, row_lengths, whole

_POINT = re.compile(rb"^[ \t]*v[ \t]+(.*)$", re.M)
_POINT_LINE = re.compile(rb"^[ \t]*v[ \t]", re.M)
_FACE = re.compile(rb"^[ \t]*f[ \t]+(.*)$", re.M)
_COMMENT = re.compile(rb"#.*")
_BEYOND_SLASH = re.compile(rb"/\S*")
_COLOURED = 6  # numbers on a point line


def read_obj(data: bytes, name: str) -> Scan:
    """Read the bytes of an OBJ file. Raises InputError where it is garbled or of another kind."""
    data = plain(data, name).replace(b"\\\n", b" ")
    if b"#" in data:
        data = _COMMENT.sub(b"", data)
    points, colours = _points(data, name)
    faces, split = _faces(data, name)
    return Scan(points, faces, split, colours)


def _points(data: bytes, name: str) -> tuple[Floats, Floats | None]:
    """Corner points and, where every point line has three more numbers in 0..1, their colours."""
    rows = _POINT.findall(data)
    text = b"\n".join(rows)
    lengths = row_lengths(text)
    good = int((lengths >= 3).sum())
    if not rows or good != len(rows):
        raise InputError(
            f"{name}: {len(rows) - good:,} of {len(rows):,} point lines (v) lack three "
            "coordinates; the file is damaged or no OBJ file, save the scan again"
        )
    values = numbers(text, name, "a point line (v)")
    first = (np.cumsum(lengths) - lengths)[:, None]
    points = values[first + np.arange(3)]
    if not (lengths == _COLOURED).all():
        return points, None
    return points, srgb(values[first + np.arange(3, 6)], 1.0, name)


def _faces(data: bytes, name: str) -> tuple[Ints, int]:
    """Triangles counted from 0, and how many polygons were split."""
    text = b"\n".join(_FACE.findall(data))
    if b"/" in text:
        text = _BEYOND_SLASH.sub(b"", text)
    given = whole(numbers(text, name, "a face line (f)"))
    lengths = row_lengths(text)
    if (given == 0).any():
        raise InputError(f"{name}: a face line (f) names corner 0, but OBJ counts from 1")
    corners = given - 1
    if (given < 0).any():
        corners = np.where(given > 0, corners, np.repeat(_points_above(data), lengths) + given)
    return fan(corners, lengths, name)


def _points_above(data: bytes) -> Ints:
    """How many point lines stand above each face line: negative numbers count back from there."""
    points = np.array([match.start() for match in _POINT_LINE.finditer(data)], np.int64)
    faces = [match.start() for match in _FACE.finditer(data) if match[1].strip()]
    return np.searchsorted(points, np.array(faces, np.int64))
