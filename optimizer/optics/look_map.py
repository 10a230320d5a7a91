"""The map of the look: what a face shows for each position of a flat boundary in the stone.

A position is (tilt, azimuth, offset) in the stone's frame, as DEVELOPERS.md defines them.
"""

from dataclasses import dataclass
from functools import partial

import numpy as np

from optimizer.mesh import Floats
from optimizer.optics.figures import ZoneFigures
from optimizer.optics.plane_shares import PlaneShares
from optimizer.running.workers import workers


@dataclass(frozen=True)
class LookMap:
    """Figures over a grid of ``tilts`` (t,), ``azimuths`` (a,) in degrees and ``offsets`` (o,).

    share             (t, a, o) of the face that shows the colour to which the boundary's normal
                      points, 0 to 1
    halves, ends      (t, a, o) the balance of either pair, 0 to 1
    ends_apart        (t, a, o) the difference of the ends, 0 to 1
    """

    tilts: Floats
    azimuths: Floats
    offsets: Floats
    share: Floats
    halves: Floats
    ends: Floats
    ends_apart: Floats

    @staticmethod
    def of(
        shares: PlaneShares, corners: Floats, tilts: Floats, azimuths: Floats, offsets: Floats,
    ) -> "LookMap":  # fmt: skip
        """The map of the stone with these ``corners`` (k, 3) mm."""
        ways = [(tilt, azimuth) for tilt in tilts for azimuth in azimuths]
        with workers() as pool:
            rows = list(pool.map(partial(along, shares, corners, offsets), ways))
        shape = (len(tilts), len(azimuths), len(offsets), 4)
        figures = np.array(
            [
                [
                    (f.share, f.balance_of_halves, f.balance_of_ends, f.difference_of_ends)
                    for f in row
                ]
                for row in rows
            ]
        ).reshape(shape)
        return LookMap(tilts, azimuths, offsets, *np.moveaxis(figures, -1, 0))


def along(
    shares: PlaneShares, corners: Floats, offsets: Floats, way: tuple[float, float]
) -> list[ZoneFigures]:
    """The figures at each of ``offsets`` (o,), rising, for one (tilt, azimuth) in degrees."""
    normal = normal_of(*way)
    reach = corners @ normal
    middle, half = (reach.max() + reach.min()) / 2.0, float(np.ptp(reach)) / 2.0
    return shares.figures(normal, middle + offsets * half)


def normal_of(tilt_deg: float, azimuth_deg: float) -> Floats:
    """The boundary's unit normal (3,) in the stone's frame."""
    tilt, azimuth = np.radians([tilt_deg, azimuth_deg])
    return np.array([np.cos(tilt) * np.cos(azimuth), np.cos(tilt) * np.sin(azimuth), np.sin(tilt)])
