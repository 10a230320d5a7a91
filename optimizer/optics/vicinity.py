"""What the face would show if the boundary lay a little off its planned position."""

from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from optimizer.mesh import Floats
from optimizer.optics.figures import ZoneFigures
from optimizer.optics.look_map import LookMap, along, normal_of
from optimizer.optics.plane_shares import PlaneShares
from optimizer.order import Range

SHIFTS, TURNS = 25, 13  # places of each map along the offset and along the angle
REACH_OFFSET, REACH_DEG = 0.6, 30.0  # of each map, to either side of the plan
_MOST_TILT = 90.0


@dataclass(frozen=True)
class Vicinity:
    """The look around the planned position of a flat boundary in the stone.

    ``tilt_deg``, ``azimuth_deg`` and ``offset`` are the planned position; ``half_mm`` is an offset
    of 1 in mm. While the boundary is up to ``off_mm`` and ``off_deg`` off, the share, the balances
    of ``halves`` and ``ends``, ``balance``, the worse of these two, and the difference
    ``ends_apart`` keep to their ranges.
    ``by_azimuth`` keeps the planned tilt, ``by_tilt`` the planned azimuth.
    """

    zone: str
    colour: str
    tilt_deg: float
    azimuth_deg: float
    offset: float
    half_mm: float
    figures: ZoneFigures
    off_mm: float
    off_deg: float
    share: Range
    balance: Range
    halves: Range
    ends: Range
    ends_apart: Range
    by_azimuth: LookMap
    by_tilt: LookMap

    @property
    def shift_mm(self) -> float:
        """How far the boundary lies from the stone's middle, along its normal."""
        return self.offset * self.half_mm

    def with_figures(self, figures: ZoneFigures) -> "Vicinity":
        """The same about other figures of the planned position, which all ranges include."""
        ends, halves = figures.balance_of_ends, figures.balance_of_halves
        return replace(
            self,
            figures=figures,
            share=_range([*self.share, figures.share]),
            balance=_range([*self.balance, min(ends, halves)]),
            halves=_range([*self.halves, halves]),
            ends=_range([*self.ends, ends]),
            ends_apart=_range([*self.ends_apart, figures.difference_of_ends]),
        )


def vicinity(
    zone: str, colour: str, shares: PlaneShares, corners: Floats,
    at: tuple[float, float, float], off_mm: float, off_deg: float,
) -> Vicinity:  # fmt: skip
    """The look around ``at`` (tilt and azimuth in degrees, offset) in the stone with these
    ``corners`` (k, 3) mm, where marking and sawing may be off by ``off_mm`` and ``off_deg``."""
    tilt, azimuth, offset = at
    (here,) = along(shares, corners, np.array([offset]), (tilt, azimuth))
    half = _half(corners, tilt, azimuth)
    shifts = offset + np.array([-1.0, 0.0, 1.0]) * off_mm / half
    turns = (-off_deg, 0.0, off_deg)
    figures = [
        one
        for a, b in product(turns, turns)
        for one in along(shares, corners, shifts, (_tilt(tilt + a), azimuth + b))
    ]
    shown = [one.share for one in figures]
    halves = [one.balance_of_halves for one in figures]
    ends = [one.balance_of_ends for one in figures]
    balance = list(map(min, halves, ends))
    offsets = np.linspace(offset - REACH_OFFSET, offset + REACH_OFFSET, SHIFTS)
    away = np.linspace(-REACH_DEG, REACH_DEG, TURNS)
    tilts = np.unique([_tilt(tilt + each) for each in away])
    one_tilt, one_azimuth = np.array([tilt]), np.array([azimuth])
    return Vicinity(
        zone, colour, tilt, azimuth, offset, half, here, off_mm, off_deg,
        _range(shown), _range(balance), _range(halves), _range(ends),
        _range([one.difference_of_ends for one in figures]),
        LookMap.of(shares, corners, one_tilt, azimuth + away, offsets),
        LookMap.of(shares, corners, tilts, one_azimuth, offsets),
    )  # fmt: skip


def _range(values: list[float]) -> Range:
    return min(values), max(values)


def _tilt(value: float) -> float:
    return min(max(value, -_MOST_TILT), _MOST_TILT)


def _half(corners: Floats, tilt: float, azimuth: float) -> float:
    return float(np.ptp(corners @ normal_of(tilt, azimuth))) / 2.0
