"""A scan as its file has it: bare corner points and triangles, in the file's own numbers."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints
from optimizer.wording.plain_number import plain

Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class FileUnit:
    """The unit that comes with a file: ``mm`` to one number of the file, described in ``words``.

    ``firm`` where the file itself states the unit; else only the format's specification does.
    """

    mm: float
    words: str
    firm: bool


@dataclass(frozen=True)
class Scan:
    """What a scan file holds: ``vertices`` (n, 3) in file units, triangles ``faces`` (m, 3).

    Without faces it is a cloud of points. ``polygons_split`` counts the faces of more than three
    corners that were split into triangles. ``colours`` (n, 3) are the points' sRGB values in 0..1;
    ``normals`` (n, 3), read of clouds alone, point out of the piece and have any length; each is
    None where the file has none. ``left_out`` names what was left out because it is no surface.
    ``sealed`` says that this program wrote the solid and nobody changed it since.
    """

    vertices: Floats
    faces: Ints
    polygons_split: int = 0
    colours: Floats | None = None
    normals: Floats | None = None
    unit: FileUnit | None = None
    left_out: tuple[str, ...] = ()
    sealed: bool = False

    @property
    def used(self) -> Bools:
        """Which points belong to some triangle, (n,); in a cloud all."""
        used = np.full(len(self.vertices), not len(self.faces))
        used[self.faces] = True
        return used

    @property
    def used_points(self) -> Floats:
        """The points that belong to some triangle, (k, 3); in a cloud all."""
        return self.vertices[self.used]


def srgb(values: Floats, full: float, name: str) -> Floats:
    """Colours (n, 3) of which ``full`` is the brightest, as sRGB in 0..1.

    Raises InputError where they run beyond that.
    """
    if not ((values >= 0.0) & (values <= full)).all():
        raise InputError(
            f"{name}: the corner points' colours run beyond 0 to {plain(full)}; save the scan "
            "again, or without colours"
        )
    return np.asarray(values / full, np.float64)
