"""How many triangles a scan has at the least, by its first bytes and its size."""

import re
from pathlib import Path

from optimizer.files.reading import SCAN, file_size, read_start

_HEAD = 65536  # bytes that a header lies in
_STL_HEAD, _STL_EACH = 84, 50  # of binary STL
_STATED_COUNT = {
    ".ply": re.compile(rb"^element face (\d{1,15})\s", re.M),
    ".off": re.compile(rb"\s*[CN]{0,2}OFF\s+\d{1,15}[ \t]+(\d{1,15})\b"),
}
_LEAST_BYTES = 4  # that a triangle takes in any of these formats
# What a triangle takes at the most with its share of the points, where many digits, normals,
# colours and places in pictures come with them.
_MOST_BYTES = {".stl": 300, ".obj": 300, ".glb": 150, ".3mf": 150}


def least_triangles(path: Path) -> int:
    """Of the scan at ``path``; 0 where nothing is known. Raises InputError where it can't be
    read."""
    kind, size, start = path.suffix.lower(), file_size(path, SCAN), read_start(path, SCAN, _HEAD)
    claimed = int.from_bytes(start[_STL_HEAD - 4 : _STL_HEAD], "little")
    if kind == ".stl" and size == _STL_HEAD + _STL_EACH * claimed:
        return claimed
    stated = _STATED_COUNT[kind].search(start) if kind in _STATED_COUNT else None
    if stated is not None:
        return min(int(stated[1]), size // _LEAST_BYTES)  # a damaged header may state anything
    return size // _MOST_BYTES[kind] if kind in _MOST_BYTES else 0
