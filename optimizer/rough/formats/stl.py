"""STL scans, binary and ASCII: every triangle brings its own three corners."""

import re

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats
from optimizer.rough.formats.scan import Scan
from optimizer.rough.formats.text import numbers, plain

_HEADER = 80
_TRIANGLE = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("extra", "<u2")])
_CORNER = rb"\s*vertex[ \t]+(\S+[ \t]+\S+[ \t]+\S+)[ \t]*\n"
_TRIANGLES = re.compile(
    rb"^[ \t]*outer[ \t]+loop[ \t]*\n" + 3 * _CORNER + rb"\s*endloop\s+endfacet\b", re.I | re.M
)
_VERTEX = re.compile(rb"^[ \t]*vertex\b", re.I | re.M)
_END_FACET = re.compile(rb"^[ \t]*endfacet\b", re.I | re.M)
_END_SOLID = re.compile(rb"^[ \t]*endsolid\b", re.I | re.M)
_FACET = re.compile(rb"^[ \t]*facet\b", re.I | re.M)


def read_stl(data: bytes, name: str) -> Scan:
    """Read the bytes of an STL file. Raises InputError where it is cut short or garbled."""
    if len(data) >= _HEADER + 4 and len(data) == _binary_size(data):
        blob = np.frombuffer(data, _TRIANGLE, offset=_HEADER + 4)
        return _soup(blob["corners"].reshape(-1, 3).astype(np.float64))
    if b"\0" not in data:
        text = plain(data, name)
        if text.lstrip()[:5].lower() == b"solid" and _FACET.search(text):
            return _ascii(text, name)
    raise _no_stl(data, name)


def _soup(corners: Floats) -> Scan:
    return Scan(corners, np.arange(len(corners), dtype=np.int64).reshape(-1, 3))


def _claimed(data: bytes) -> int:
    return int.from_bytes(data[_HEADER : _HEADER + 4], "little")


def _binary_size(data: bytes) -> int:
    return _HEADER + 4 + _TRIANGLE.itemsize * _claimed(data)


def _no_stl(data: bytes, name: str) -> InputError:
    if len(data) < _HEADER + 4:
        return InputError(
            f"{name}: {len(data)} bytes are too few for an STL file; save the scan again"
        )
    return InputError(
        f"{name}: as binary STL it claims {_claimed(data):,} triangles, which take "
        f"{_binary_size(data):,} bytes, but the file has {len(data):,}; it is cut short or no STL "
        "file, save the scan again"
    )


def _ascii(text: bytes, name: str) -> Scan:
    found = _TRIANGLES.findall(text)
    facets, corners = len(_FACET.findall(text)), len(_VERTEX.findall(text))
    ended = len(_END_FACET.findall(text))
    if not (3 * len(found) == 3 * facets == 3 * ended == corners and _END_SOLID.search(text)):
        raise InputError(
            f"{name}: {facets:,} facets begin, {ended:,} end, {len(found):,} of them with three "
            f"corners, of {corners:,} in all; the file is cut short or garbled, save the scan again"
        )
    rows = b"\n".join(b"\n".join(corner) for corner in found)
    return _soup(numbers(rows, name, "a vertex line").reshape(-1, 3))
