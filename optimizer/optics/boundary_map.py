"""One trace, many boundaries: what the face shows wherever a flat boundary runs through it."""

from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats
from optimizer.optics.dye import Dye
from optimizer.optics.face import Face, everywhere, split
from optimizer.optics.figures import ZoneFigures, zone_figures
from optimizer.optics.look_map import normal_of
from optimizer.optics.shade_kernels import shade
from optimizer.optics.shading import Table, table_of
from optimizer.placement.workers import workers


@dataclass(frozen=True)
class Recolour:
    """A face of one band made ready for many boundaries between two dyes.

    ``towards`` and ``away`` (n, 3) are the face wholly of one colour and wholly of the other.
    """

    face: Face
    light: Floats
    table: Table
    towards: Floats
    away: Floats

    @staticmethod
    def of(face: Face, light: Floats, towards: Dye, away: Dye) -> "Recolour":
        """``face`` has one band, ``light`` (m,) is that band's from ``face.lit``."""
        (band,), (paths,) = face.bands, face.paths
        table = table_of(towards, away, face.longest_mm, band)
        run, none = split(paths, everywhere())
        wholly = []
        for runs in ((run, none), (none, run)):
            rays = np.empty((len(face.places), 3))
            shade(paths.start, light, *runs, table.values, table.per_mm, rays)
            wholly.append(rays)
        return Recolour(face, light, table, *wholly)

    def colours(self, forms: Floats) -> Floats:
        """Linear sRGB (n, 3) with the dye ``towards`` where all ``forms`` (k, 10) are positive."""
        (paths,) = self.face.paths
        rays = np.empty((len(self.face.places), 3))
        runs = split(paths, forms)
        shade(paths.start, self.light, *runs, self.table.values, self.table.per_mm, rays)
        return rays

    def figures(self, forms: Floats) -> ZoneFigures:
        """What the face shows with that boundary."""
        return zone_figures(self.face, self.colours(forms), self.towards, self.away)


def plane_form(corners: Floats, tilt_deg: float, azimuth_deg: float, offset: float) -> Floats:
    """The form (1, 10) of a plane as the stone sees it: ``offset`` 0 halves the extent of
    ``corners`` (k, 3) along the plane's normal, ±1 just touches it."""
    normal = normal_of(tilt_deg, azimuth_deg)
    along = corners @ normal
    low, high = along.min(), along.max()
    at = (low + high) / 2.0 + offset * (high - low) / 2.0
    return np.array([[0.0] * 6 + [*normal, -at]])


def figures_of(recolour: Recolour, forms: list[Floats], *, threads: int = 2) -> list[ZoneFigures]:
    """The figures for each boundary, in order, whatever the number of ``threads``."""
    with workers(threads) as pool:
        return list(pool.map(recolour.figures, forms, chunksize=16))
