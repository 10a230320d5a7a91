"""Scan files as bare corner points and triangles, in the file's own numbers.

The readers are our own: the formats are small, and a scan that is cut short, garbled or wrong about
its length must be refused rather than read in part.
"""

from collections.abc import Callable
from pathlib import Path

import numpy as np

from optimizer.errors import InputError
from optimizer.files.reading import SCAN, file_size, read_file
from optimizer.rough.formats import glb, obj, off, ply, stl, threemf, xyz
from optimizer.rough.formats.scan import Scan
from optimizer.rough.formats.text import NO_CORNER
from optimizer.running.memory import refuse_too_large

Reader = Callable[[bytes, str], Scan]


_READERS: dict[str, Reader] = {
    ".stl": stl.read_stl, ".ply": ply.read_ply, ".obj": obj.read_obj, ".off": off.read_off,
    ".glb": glb.read_glb, ".3mf": threemf.read_3mf, ".xyz": xyz.read_xyz,
}  # fmt: skip
_OF_CLOUDS = (".ply", ".xyz")


def read_scan(path: Path) -> Scan:
    """Read a mesh (.stl, .ply, .obj, .off, .glb, .3mf) or a cloud of points (.ply, .xyz).

    Raises InputError where the file is missing, of another kind, cut short, garbled or empty.
    """
    kind, reader = path.suffix.lower(), _reader_of(path)
    refuse_too_large(file_size(path, SCAN), path.name)
    data = read_file(path, SCAN)
    if not data:
        raise InputError(f"{path.name}: the file is empty; save the scan again")
    _refuse_disguise(data, path)
    with np.errstate(invalid="ignore", over="ignore"):  # numbers that are not finite: refused below
        scan = reader(data, path.name)
    if not len(scan.faces) and kind not in _OF_CLOUDS:
        raise InputError(
            f"{path.name}: the file holds no triangles; save the scan as a mesh, or points alone "
            "as .ply or .xyz"
        )
    _refuse_nonsense(scan, path.name)
    return scan


def read_mesh(path: Path) -> Scan:
    """As ``read_scan``, but a cloud of points is refused too."""
    scan = read_scan(path)
    if not len(scan.faces):
        raise InputError(f"{path.name}: the file holds no triangles; save the scan as a mesh")
    return scan


def refuse_unread(path: Path) -> None:
    """Raise the InputError that ``read_scan`` would raise for the file's name and kind alone. Ask
    before long work."""
    _reader_of(path)


def _reader_of(path: Path) -> Reader:
    file_size(path, SCAN)  # first, since a folder, say, has no ending either
    reader = _READERS.get(path.suffix.lower())
    kinds = ", ".join(_READERS)
    if not path.suffix:
        raise InputError(f"{path}: the name has no ending that tells the scan format; save {kinds}")
    if reader is None:
        raise InputError(f'{path}: "{path.suffix}" is no scan format read here; save {kinds}')
    return reader


def _refuse_disguise(data: bytes, path: Path) -> None:
    """Raises InputError where the name says one kind of file and the first bytes another."""
    for kind, begins, said in _FIRST_BYTES:
        if data.startswith(begins) != (path.suffix.lower() == kind):
            holds = f"holds {said} data" if data.startswith(begins) else f"is no {said} file"
            raise InputError(
                f"{path.name}: the file {holds}; give it the right ending or save it again"
            )


_FIRST_BYTES = (
    (".ply", (b"ply\n", b"ply\r", b"\xef\xbb\xbfply"), "PLY"),
    (".glb", (b"glTF",), "GLB"),
    (".3mf", (b"PK",), "3MF"),
)


def _refuse_nonsense(scan: Scan, name: str) -> None:
    low, high = int(scan.faces.min(initial=0)), int(scan.faces.max(initial=-1))
    if low < 0 or high >= len(scan.vertices):
        bad = low if low < 0 else high
        named = "an impossible corner" if bad <= NO_CORNER // 2 else f"corner {bad:,}"
        raise InputError(
            f"{name}: a face names {named}, but the corners run from 0 to "
            f"{len(scan.vertices) - 1:,}; the file is damaged, save the scan again"
        )
    bad_rows = np.flatnonzero(~np.isfinite(scan.vertices).all(axis=1))
    if len(bad_rows):
        raise InputError(
            f"{name}: not all corner points are finite numbers ({len(bad_rows):,} are not, the "
            f"first is number {bad_rows[0]}, counted from 0); save the scan again"
        )
