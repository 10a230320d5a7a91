"""What a face shows wherever a flat boundary runs through it, a thousand positions a second.

The paths do not depend on the boundary, nor does their length up to each place. So a boundary costs
only its crossings with the paths, and one look into the table of colours for each place where light
comes in.
"""

from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats
from optimizer.optics.dye import Dye
from optimizer.optics.face import Face, coloured, everywhere, split
from optimizer.optics.figures import FEW, ZoneFigures, showing
from optimizer.optics.kernels.planes import FaceRays, plane_sums
from optimizer.optics.shading import ShadingTable, table_of


@dataclass(frozen=True)
class PlaneShares:
    """The rays of a face that tell two dyes apart, prepared for flat boundaries between them.

    ``distinct_share`` is the share of the face that these rays stand for (see ZoneFigures).
    """

    rays: FaceRays
    table: ShadingTable
    distinct_share: float

    @property
    def distinct(self) -> bool:
        """Whether enough of the face tells the two dyes apart for its figures to mean something."""
        return self.distinct_share >= FEW

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
        across = (all_towards - all_away)[rays]
        across /= (across**2).sum(axis=1)[:, None]
        lit = np.flatnonzero(light > 0.0)
        last = np.zeros(len(face.places), np.int64)
        np.maximum.at(last, paths.ray[lit], lit + 1)
        start = paths.start[:-1][rays]
        entry = paths.points[start]
        run, _ = split(paths, everywhere())
        face_rays = FaceRays(
            start=start,
            end=last[rays],
            points=paths.points,
            leg=np.diff(run, prepend=0.0),
            run=run,
            light=light,
            across=across,
            zero=(across * all_away[rays]).sum(axis=1),
            quarter=2 * (entry[:, 0] < 0.0) + (entry[:, 1] < 0.0),
            area=np.ascontiguousarray(area[rays]),
        )
        table = table_of(towards, away, face.longest_mm, band)
        distinct_share = float(area[rays].sum() / max(area[face.hit].sum(), 1e-300))
        return PlaneShares(face_rays, table, distinct_share)

    def figures(self, normal: Floats, offsets: Floats) -> list[ZoneFigures]:
        """The figures of each plane ``normal``·x = ``offsets`` (o,) mm, rising, in the stone's
        frame; ``normal`` (3,) points towards the first dye."""
        sums = np.empty((len(offsets), 4))
        plane_sums(
            self.rays, self.table.values, self.table.per_mm,
            np.ascontiguousarray(normal), np.ascontiguousarray(offsets, float), sums,
        )  # fmt: skip
        areas = np.asarray(np.bincount(self.rays.quarter, self.rays.area, 4), float)
        return [_figures(each, areas, self.distinct_share) for each in sums]


def _figures(sums: Floats, areas: Floats, distinct_share: float) -> ZoneFigures:
    def mean(*quarters: int) -> float:
        area = float(areas[list(quarters)].sum())
        return float(sums[list(quarters)].sum()) / area if area else 0.0

    halves, ends = (mean(0, 2), mean(1, 3)), (mean(0, 1), mean(2, 3))
    return ZoneFigures(mean(0, 1, 2, 3), halves, ends, distinct_share)
