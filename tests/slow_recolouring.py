"""A traced face coloured for many boundaries, ray by ray: the slow counterpart of
optics/look_map."""

from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats
from optimizer.optics.dye import Dye
from optimizer.optics.face import Face, everywhere, split
from optimizer.optics.figures import ZoneFigures, zone_figures
from optimizer.optics.kernels.shade import shade
from optimizer.optics.shading import ShadingTable, table_of
from optimizer.running.workers import workers


@dataclass(frozen=True)
class RecolouredFace:
    """A traced face of one band that can be coloured for many boundaries between two dyes.

    ``towards`` and ``away`` (n, 3) are the face wholly of one colour and wholly of the other.
    """

    face: Face
    light: Floats
    table: ShadingTable
    towards: Floats
    away: Floats

    @staticmethod
    def of(face: Face, light: Floats, towards: Dye, away: Dye) -> "RecolouredFace":
        """``face`` has one band, ``light`` (m,) is that band's from ``face.lit``."""
        (band,), (paths,) = face.bands, face.paths
        table = table_of(towards, away, face.longest_mm, band)
        run, none = split(paths, everywhere())
        wholly = []
        for runs in ((run, none), (none, run)):
            rays = np.empty((len(face.places), 3))
            shade(paths.start, light, *runs, table.values, table.per_mm, rays)
            wholly.append(rays)
        return RecolouredFace(face, light, table, *wholly)

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


def figures_of(recolour: RecolouredFace, forms: list[Floats]) -> list[ZoneFigures]:
    """The figures for each boundary, in order."""
    with workers() as pool:
        return list(pool.map(recolour.figures, forms, chunksize=16))
