"""STL scans, binary and ASCII: every triangle brings its own three corners."""

import re

import numpy as np

from optimizer.errors import InputError
from optimizer.rough.scan_file import Scan, numbers

_HEADER = 80
_TRIANGLE = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("extra", "<u2")])
_VERTEX = re.compile(rb"\bvertex[ \t]+(\S+)[ \t]+(\S+)[ \t]+(\S+)[ \t]*\r?$", re.I | re.M)
_END_FACET = re.compile(rb"^\s*endfacet\b", re.I | re.M)
_END_SOLID = re.compile(rb"^\s*endsolid\b", re.I | re.M)
_FACET = re.compile(rb"^\s*facet\b", re.I | re.M)


def read_stl(data: bytes, name: str) -> Scan:
    """Read the bytes of an STL file. Raises InputError where it is cut short or garbled."""
    if len(data) >= _HEADER + 4 and len(data) == _binary_size(data):
        return _binary(data)
    if data.lstrip()[:5].lower() == b"solid" and _FACET.search(data):
        return _ascii(data, name)
    raise _no_stl(data, name)


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


def _binary(data: bytes) -> Scan:
    blob = np.frombuffer(data, _TRIANGLE, offset=_HEADER + 4)
    corners = blob["corners"].reshape(-1, 3).astype(np.float64)
    return Scan(corners, np.arange(len(corners), dtype=np.int64).reshape(-1, 3))


def _ascii(data: bytes, name: str) -> Scan:
    found = _VERTEX.findall(data)
    facets = len(_FACET.findall(data))
    ended = len(_END_FACET.findall(data))
    if not (len(found) == 3 * facets == 3 * ended and _END_SOLID.search(data)):
        raise InputError(
            f"{name}: {facets:,} facets begin, {ended:,} end, with {len(found):,} readable "
            "corners; the file is cut short or garbled, save the scan again"
        )
    corners = numbers([x for row in found for x in row], name, "a vertex line").reshape(-1, 3)
    return Scan(corners, np.arange(len(corners), dtype=np.int64).reshape(-1, 3))
