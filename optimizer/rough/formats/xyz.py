"""Clouds of points as text (.xyz): x y z, then a normal, then a colour, where there are any."""

import re

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats
from optimizer.rough.formats.scan import Scan, srgb
from optimizer.rough.formats.text import numbers, plain, row_lengths

_COMMENT = re.compile(rb"(#|//|;).*")
_COLUMNS = (
    "x y z; x y z and a normal; x y z and a colour; or x y z, a normal and a colour, parted by "
    "spaces, tabs or commas"
)


def read_xyz(data: bytes, name: str) -> Scan:
    """Read the bytes of an XYZ file. Raises InputError where it is garbled or of another layout."""
    text = _parted_by_space(_COMMENT.sub(b"", plain(data, name)), name)
    lengths = row_lengths(text)
    if not len(lengths):
        raise InputError(f"{name}: the file holds no points; save the scan again")
    width = int(lengths[0])
    if width not in (3, 6, 9) or (lengths != width).any():
        counts = " or ".join(str(n) for n in np.unique(lengths)[:3])
        raise InputError(f"{name}: a line has {counts} numbers; save points as {_COLUMNS}")
    rows = numbers(text, name, "a line").reshape(-1, width)
    normals = rows[:, 3:6] if width == 9 or (width == 6 and _are_normals(rows[:, 3:])) else None
    coloured = width == 9 or (width == 6 and normals is None)
    colours = _colours(rows[:, -3:], name) if coloured else None
    none = np.empty((0, 3), np.int64)
    return Scan(rows[:, :3], none, colours=colours, normals=normals)


def _parted_by_space(text: bytes, name: str) -> bytes:
    """Commas made spaces. Where both part the numbers, a comma may be a decimal one."""
    if b"," not in text:
        return text
    bare = b",".join(part.strip(b" \t") for part in text.split(b","))
    if re.search(rb"[^\s][ \t]+[^\s]", bare):
        raise InputError(
            f"{name}: spaces and commas both part the numbers; save with decimal points and one "
            "kind of separator"
        )
    return bare.replace(b",", b" ")


def _are_normals(columns: Floats) -> bool:
    """Of length one, as colours in a file hardly all are."""
    return bool((np.abs(np.linalg.norm(columns, axis=1) - 1.0) < 0.01).all())


def _colours(columns: Floats, name: str) -> Floats:
    """Shares of 1, or whole numbers up to 255."""
    full = 255.0 if (columns > 1.0).any() and (columns == np.round(columns)).all() else 1.0
    return srgb(columns, full, name)
