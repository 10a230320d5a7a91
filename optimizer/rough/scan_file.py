"""Scan files as bare corner points and polygons, in the file's own numbers.

Readers of our own: the three formats are small, and a scan that is cut short, garbled or lies about
its length must be refused rather than read in part.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints

Bools = NDArray[np.bool_]

_LONGEST_NUMBER = 64  # characters; a longer word is no number and would only take memory


@dataclass(frozen=True)
class Scan:
    """What a scan file holds: ``vertices`` (n, 3) in file units, triangles ``faces`` (m, 3).

    ``polygons_split`` counts the faces of more than three corners that were split into triangles.
    ``colours`` (n, 3) are the corner points' sRGB values in 0..1, None where the file has none.
    """

    vertices: Floats
    faces: Ints
    polygons_split: int = 0
    colours: Floats | None = None

    @property
    def used(self) -> Bools:
        """Which corner points some triangle uses, (n,)."""
        used = np.zeros(len(self.vertices), bool)
        used[self.faces] = True
        return used

    @property
    def used_points(self) -> Floats:
        """The corner points that some triangle uses, (k, 3)."""
        return self.vertices[self.used]


Reader = Callable[[bytes, str], Scan]


def _readers() -> dict[str, Reader]:
    from optimizer.rough import obj, ply, stl

    return {".stl": stl.read_stl, ".ply": ply.read_ply, ".obj": obj.read_obj}


def read_scan(path: Path) -> Scan:
    """Read a .stl, .ply or .obj file.

    Raises InputError where the file is missing, of another kind, cut short, garbled or empty.
    """
    if path.is_dir():
        raise InputError(f"{path}: is a folder; name the scan in it")
    reader = _readers().get(path.suffix.lower())
    if reader is None:
        kinds = ", ".join(_readers())
        raise InputError(f'{path.name}: "{path.suffix}" is no scan format read here; save {kinds}')
    data = _bytes_of(path)
    _refuse_disguise(data, path)
    scan = reader(data, path.name)
    _refuse_nonsense(scan, path.name)
    return scan


def _bytes_of(path: Path) -> bytes:
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        raise InputError(f"{path}: there is no such file") from None
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror})") from None
    if not data:
        raise InputError(f"{path.name}: the file is empty; save the scan again")
    return data


def _refuse_disguise(data: bytes, path: Path) -> None:
    """The name says one kind, the first bytes another."""
    is_ply = data.startswith((b"ply\n", b"ply\r"))
    if is_ply != (path.suffix.lower() == ".ply"):
        said = "holds PLY data" if is_ply else 'does not begin with "ply" as a PLY file must'
        raise InputError(f"{path.name}: the file {said}; give it the right ending or save it again")


def _refuse_nonsense(scan: Scan, name: str) -> None:
    if not len(scan.faces):
        raise InputError(f"{name}: the file holds no triangles; save the scan as a mesh")
    low, high = int(scan.faces.min()), int(scan.faces.max())
    if low < 0 or high >= len(scan.vertices):
        bad = low if low < 0 else high
        raise InputError(
            f"{name}: a face names corner {bad}, but the corners run from 0 to "
            f"{len(scan.vertices) - 1}; the file is damaged, save the scan again"
        )
    bad_rows = np.flatnonzero(~np.isfinite(scan.vertices).all(axis=1))
    if len(bad_rows):
        raise InputError(
            f"{name}: not all corner points are finite numbers ({len(bad_rows):,} are not, the "
            f"first is number {bad_rows[0]}, counted from 0); save the scan again"
        )


def fan(polygons: Sequence[Sequence[float]]) -> tuple[Floats, int]:
    """Polygons as triangles about their first corner, and how many had more than three corners."""
    triangles = [(p[0], p[i], p[i + 1]) for p in polygons for i in range(1, len(p) - 1)]
    split = sum(len(p) > 3 for p in polygons)
    return np.array(triangles, np.float64).reshape(-1, 3), split


def numbers(tokens: Sequence[bytes], name: str, what: str) -> Floats:
    """Text tokens as float64. Raises InputError where one of them is no number."""
    if any(len(token) > _LONGEST_NUMBER for token in tokens):
        raise InputError(f"{name}: {what} holds something that is not a number")
    try:
        return np.array(tokens, dtype="S").astype(np.float64)
    except ValueError:
        raise InputError(f"{name}: {what} holds something that is not a number") from None


def srgb(values: Floats, full: float, name: str) -> Floats:
    """Colours (n, 3) of which ``full`` is the brightest, as sRGB in 0..1.

    Raises InputError where they run beyond that.
    """
    if not ((values >= 0.0) & (values <= full)).all():
        raise InputError(
            f"{name}: the corner points' colours run beyond 0 to {full:g}; save the scan again, "
            "or without colours"
        )
    return np.asarray(values / full, np.float64)
