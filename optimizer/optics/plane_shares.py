"""What a face shows wherever a flat boundary runs through it, a thousand positions a second.

The paths are known and so is the way that each has run when light comes in, so a boundary costs
only its crossings with the paths, and a look into the table of colours for each place with light.
"""

from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats, Ints
from optimizer.optics.dye import Dye
from optimizer.optics.face import Face, coloured, everywhere, split
from optimizer.optics.figures import FEW, ZoneFigures, showing
from optimizer.optics.kernels.planes import plane_sums
from optimizer.optics.shading import ShadingTable, table_of


@dataclass(frozen=True)
class PlaneShares:
    """The paths of a face that show colour, made ready for flat boundaries between two dyes.

    n rays with m places; arrays as ``kernels.planes.plane_sums`` takes them. ``told`` is the share
    of the face that these rays stand for (see ZoneFigures).
    """

    start: Ints
    end: Ints
    points: Floats
    leg: Floats
    whole: Floats
    light: Floats
    way: Floats
    none: Floats
    quarter: Ints
    area: Floats
    table: ShadingTable
    told: float

    @property
    def shows(self) -> bool:
        """Whether enough of the face tells the two dyes apart for figures to say something."""
        return self.told >= FEW

    @staticmethod
    def of(
        face: Face, light: Floats, towards: Dye, away: Dye, areas: Floats | None = None
    ) -> "PlaneShares":
        """``face`` has one band, and ``light`` (m,) is its ``incoming_light``; ``areas`` (n,) says
        how much of the face each place stands for, by default all the same."""
        (band,), (paths,) = face.bands, face.paths
        all_towards, all_away = (
            coloured(face, (light,), everywhere(), dye, dye) for dye in (towards, away)
        )
        area = np.ones(len(face.places)) if areas is None else areas
        rays = np.flatnonzero(showing(all_towards, all_away) & face.hit)
        way = (all_towards - all_away)[rays]
        way /= (way**2).sum(axis=1)[:, None]
        lit = np.flatnonzero(light > 0.0)
        last = np.zeros(len(face.places), np.int64)
        np.maximum.at(last, paths.ray[lit], lit + 1)
        start = paths.start[:-1][rays]
        entry = paths.points[start]
        whole, _ = split(paths, everywhere())
        return PlaneShares(
            start=start,
            end=last[rays],
            points=paths.points,
            leg=np.diff(whole, prepend=0.0),
            whole=whole,
            light=light,
            way=way,
            none=(way * all_away[rays]).sum(axis=1),
            quarter=2 * (entry[:, 0] < 0.0) + (entry[:, 1] < 0.0),
            area=np.ascontiguousarray(area[rays]),
            table=table_of(towards, away, face.longest_mm, band),
            told=float(area[rays].sum() / max(area[face.hit].sum(), 1e-300)),
        )

    def figures(self, normal: Floats, offsets: Floats) -> list[ZoneFigures]:
        """The figures of each plane ``normal``·x = ``offsets`` (o,) mm, rising, ``normal`` (3,)
        towards the first dye, in the stone's frame."""
        sums = np.empty((len(offsets), 4))
        plane_sums(
            self.start, self.end, self.points, self.leg, self.whole, self.light, self.way,
            self.none, self.quarter, self.area, self.table.values, self.table.per_mm,
            np.ascontiguousarray(normal), np.ascontiguousarray(offsets, float), sums,
        )  # fmt: skip
        areas = np.asarray(np.bincount(self.quarter, self.area, 4), float)
        return [_figures(each, areas, self.told) for each in sums]


def _figures(sums: Floats, areas: Floats, told: float) -> ZoneFigures:
    def mean(*quarters: int) -> float:
        area = float(areas[list(quarters)].sum())
        return float(sums[list(quarters)].sum()) / area if area else 0.0

    halves, ends = (mean(0, 2), mean(1, 3)), (mean(0, 1), mean(2, 3))
    return ZoneFigures(mean(0, 1, 2, 3), halves, ends, told)
