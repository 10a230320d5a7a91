"""What a face shows wherever a flat boundary runs through it, a thousand positions a second.

For one ray, what each place brings to its share of a colour is a smooth function of how far the
light has run in that colour, since the whole way is known. So the colour science is done once a
place, as a polynomial, and a boundary costs only its crossings with the paths.
"""

from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats, Ints
from optimizer.optics.dye import Dye
from optimizer.optics.face import Face
from optimizer.optics.figures import ZoneFigures, showing
from optimizer.optics.observer import rgb_weights
from optimizer.optics.plane_kernels import plane_sums

_DEGREE = 6  # of the polynomials: a face's share is then within 0.005 of the plain way's
_NODES = 0.5 - 0.5 * np.cos(np.pi * np.arange(_DEGREE + 1) / _DEGREE)  # Chebyshev's, in 0..1
_SOLVE = np.linalg.inv(np.vander(_NODES, increasing=True))


@dataclass(frozen=True)
class PlaneShares:
    """The paths of a face that show colour, made ready for flat boundaries between two dyes.

    n rays with m places; arrays as ``plane_kernels.plane_sums`` takes them.
    """

    start: Ints
    end: Ints
    points: Floats
    leg: Floats
    whole: Floats
    curves: Floats
    quarter: Ints
    area: Floats

    @staticmethod
    def of(
        face: Face, light: Floats, towards: Dye, away: Dye, areas: Floats | None = None
    ) -> "PlaneShares":
        """``face`` has one band, ``light`` (m,) is that band's from ``face.lit``; ``areas`` (n,) is
        how much of the face each place stands for, by default all alike."""
        (band,), (paths,) = face.bands, face.paths
        ray = paths.ray
        step = np.linalg.norm(np.diff(paths.points, axis=0, prepend=paths.points[:1]), axis=1)
        step[paths.start[:-1][paths.hit]] = 0.0
        run = np.cumsum(step)
        whole = run - run[np.minimum(paths.start[ray], len(run) - 1)]
        lit = np.flatnonzero(light > 0.0)
        one, other = (dye.per_mm[band.part] for dye in (towards, away))
        colours = _colours(whole[lit], one, other, rgb_weights()[band.part])
        brought = np.asarray(light[lit, None, None] * colours)
        count = len(face.places)
        all_towards, all_away = (
            np.array([np.bincount(ray[lit], part, count) for part in brought[:, node].T], float).T
            for node in (-1, 0)
        )
        seen = showing(all_towards, all_away) & face.hit
        way = all_towards - all_away
        way = way / np.maximum((way**2).sum(axis=1), 1e-300)[:, None]
        shares = np.einsum("knc,kc->kn", brought - brought[:, :1], way[ray[lit]])
        curves = np.zeros((len(ray), _DEGREE + 1))
        curves[lit] = shares @ _SOLVE.T
        last = np.zeros(count, np.int64)
        np.maximum.at(last, ray[lit], lit + 1)
        rays = np.flatnonzero(seen)
        entry = paths.points[paths.start[:-1][rays]]
        quarter = 2 * (entry[:, 0] < 0.0) + (entry[:, 1] < 0.0)
        area = np.ones(len(rays)) if areas is None else np.ascontiguousarray(areas[rays])
        return PlaneShares(
            paths.start[:-1][rays], last[rays], paths.points, step, whole, curves, quarter, area
        )

    def figures(self, normal: Floats, offsets: Floats) -> list[ZoneFigures]:
        """The figures of each plane ``normal``·x = ``offsets`` (o,) mm, rising, ``normal`` (3,)
        towards the first dye, in the stone's frame."""
        sums = np.empty((len(offsets), 4))
        plane_sums(
            self.start, self.end, self.points, self.leg, self.whole, self.curves, self.quarter,
            self.area, np.ascontiguousarray(normal), np.ascontiguousarray(offsets, float), sums,
        )  # fmt: skip
        areas = np.asarray(np.bincount(self.quarter, self.area, 4), float)
        return [_figures(each, areas) for each in sums]


def _colours(whole: Floats, towards: Floats, away: Floats, weights: Floats) -> Floats:
    """Linear sRGB (k, nodes, 3) of light that has run ``whole`` (k,) mm, the nodes' parts of them
    in the one dye and the rest in the other."""
    depth = towards * _NODES[:, None] + away * (1.0 - _NODES[:, None])  # (nodes, waves)
    return np.stack([np.exp(-whole[:, None] * row) @ weights for row in depth], axis=1)


def _figures(sums: Floats, areas: Floats) -> ZoneFigures:
    def mean(*quarters: int) -> float:
        area = float(areas[list(quarters)].sum())
        return float(sums[list(quarters)].sum()) / area if area else 0.0

    return ZoneFigures(mean(0, 1, 2, 3), (mean(0, 2), mean(1, 3)), (mean(0, 1), mean(2, 3)))
