"""OBJ scans: corner points (v), with colours where all have them, and faces (f).

Textures, materials and groups are not read.
"""

import re

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints
from optimizer.rough.scan_file import Scan, fan, numbers, srgb

_POINT = re.compile(rb"^[ \t]*v[ \t]+(\S+)[ \t]+(\S+)[ \t]+(\S+)", re.M)
_COLOURED = re.compile(rb"^[ \t]*v(?:[ \t]+\S+){3}((?:[ \t]+\S+){3})[ \t]*\r?$", re.M)
_POINT_LINE = re.compile(rb"^[ \t]*v[ \t]", re.M)
_FACE = re.compile(rb"^[ \t]*f[ \t]+([^\r\n]*)", re.M)
_BEYOND_SLASH = re.compile(rb"/\S*")


def read_obj(data: bytes, name: str) -> Scan:
    """Read the bytes of an OBJ file. Raises InputError where it is garbled or of another kind."""
    if b"\0" in data[:4096]:
        raise InputError(f"{name}: the file holds binary data, not the text of an OBJ file")
    data = data.replace(b"\\\r\n", b" ").replace(b"\\\n", b" ")
    found = _POINT.findall(data)
    lines = len(_POINT_LINE.findall(data))
    if not found or len(found) != lines:
        raise InputError(
            f"{name}: {lines - len(found):,} of {lines:,} point lines (v) lack three coordinates; "
            "the file is damaged or no OBJ file, save the scan again"
        )
    points = numbers([x for row in found for x in row], name, "a point line (v)").reshape(-1, 3)
    faces, split = _faces(data, name)
    return Scan(points, faces, split, _colours(data, lines, name))


def _colours(data: bytes, lines: int, name: str) -> Floats | None:
    """Three shares in 0..1 behind the three coordinates of each point, as many programs write."""
    found = _COLOURED.findall(data)
    if len(found) != lines:
        return None
    shares = numbers([x for row in found for x in row.split()], name, "a point line (v)")
    return srgb(shares.reshape(-1, 3), 1.0, name)


def _faces(data: bytes, name: str) -> tuple[Ints, int]:
    """Triangles counted from 0, and how many polygons were split."""
    rows = [_BEYOND_SLASH.sub(b"", row).split() for row in _FACE.findall(data)]
    if any(len(row) < 3 for row in rows):
        raise InputError(
            f"{name}: a face line (f) has fewer than three corners; save the scan again"
        )
    try:
        polygons = [[int(corner) for corner in row] for row in rows]
    except ValueError:
        raise InputError(
            f"{name}: a face line (f) holds something that is no corner number"
        ) from None
    if any(corner <= 0 for row in polygons for corner in row):
        polygons = _from_the_front(polygons, data, name)
    triangles, split = fan(polygons)
    return triangles.astype(np.int64) - 1, split


def _from_the_front(polygons: list[list[int]], data: bytes, name: str) -> list[list[int]]:
    """Negative corner numbers count back from the last point line above the face line."""
    points = np.array([match.start() for match in _POINT_LINE.finditer(data)])
    places = np.array([match.start() for match in _FACE.finditer(data)])
    above = np.searchsorted(points, places)
    counted = [
        [corner if corner > 0 else int(n) + 1 + corner for corner in row]
        for row, n in zip(polygons, above, strict=True)
    ]
    if any(corner == 0 for row in polygons for corner in row):
        raise InputError(f"{name}: a face line (f) names corner 0, but OBJ counts from 1")
    return counted
