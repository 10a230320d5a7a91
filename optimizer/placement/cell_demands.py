"""The order's demands on the colour boundary, over a whole cell of rotations.

For branch and bound: which cells can't meet a demand on the turn, and rows that every placement
with a rotation in the cell meets. Demands left out here only make a bound larger.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from optimizer.mesh import Floats, Plane
from optimizer.order import Range, ZoneDemand
from optimizer.placement.cells import Mask
from optimizer.placement.demands import POLE_DEG

# The demands on a boundary that the bound includes: walls, and those of CellDemands.
BOUNDED = ("keep_clear_mm", "offset", "tilt_deg", "azimuth_deg")
ROUNDING = 1e-9  # radians and mm: on the safe side of rounding


class OverCells(Protocol):
    """Demands over cells of rotations, by their middles (n, 3, 3) and radii (n,)."""

    @property
    def break_symmetry(self) -> bool:
        """Whether a body's own symmetry can turn a met demand into an unmet one."""
        ...

    def may_hold(self, rotations: Floats, radii: Floats) -> Mask:
        """Mask (n,): false only where no rotation of the cell meets the demands."""
        ...

    def rows(
        self, rotations: Floats, radii: Floats, corners: Floats, lengths: Floats, middle: Floats
    ) -> Floats:
        """Rows over (t, s) and their limits, (n, r, 5), for offsets about ``middle``."""
        ...


@dataclass(frozen=True)
class Together:
    """Several sets of demands, all to be met."""

    parts: tuple[OverCells, ...]

    @property
    def break_symmetry(self) -> bool:
        """See OverCells."""
        return any(part.break_symmetry for part in self.parts)

    def may_hold(self, rotations: Floats, radii: Floats) -> Mask:
        """See OverCells."""
        keep = np.ones(len(rotations), bool)
        for part in self.parts:
            keep &= part.may_hold(rotations, radii)
        return keep

    def rows(
        self, rotations: Floats, radii: Floats, corners: Floats, lengths: Floats, middle: Floats
    ) -> Floats:
        """See OverCells."""
        none = np.zeros((len(rotations), 0, 5))
        each = [part.rows(rotations, radii, corners, lengths, middle) for part in self.parts]
        return np.concatenate([none, *each], axis=1)


@dataclass(frozen=True)
class CellDemands:
    """Tilt, azimuth and offset of ``boundary`` (normal towards the colour), in the room's frame.

    ``slack_mm``: how far the true corners may lie from the scaled ones, by a thicker girdle.
    """

    boundary: Plane
    tilt: Range | None  # radians
    azimuth: Range | None
    offset: Range | None
    slack_mm: float

    @staticmethod
    def of(zone: ZoneDemand, boundary: Plane, slack_mm: float) -> "CellDemands":
        """Of an order's zone."""
        tilt, azimuth = (
            None if ends is None else (float(np.radians(ends[0])), float(np.radians(ends[1])))
            for ends in (zone.tilt_deg, zone.azimuth_deg)
        )
        return CellDemands(boundary, tilt, azimuth, zone.offset, slack_mm)

    @property
    def break_symmetry(self) -> bool:
        """Whether a body's own symmetry can turn a met demand into an unmet one."""
        return self.tilt is not None or self.azimuth is not None

    def may_hold(self, rotations: Floats, radii: Floats) -> Mask:
        """Mask (n,) of the cells in which some rotation meets tilt and azimuth."""
        seen = np.einsum("nji,j->ni", rotations, self.boundary.normal)
        tilt = np.arcsin(np.clip(seen[:, 2], -1.0, 1.0))
        reach = radii + ROUNDING
        keep = np.ones(len(rotations), bool)
        if self.tilt is not None:
            keep &= (tilt >= self.tilt[0] - reach) & (tilt <= self.tilt[1] + reach)
        if self.azimuth is not None:
            keep &= self._azimuth_may_hold(seen, np.abs(tilt), reach)
        return keep

    def _azimuth_may_hold(self, seen: Floats, steep: Floats, reach: Floats) -> Mask:
        """A direction turned by r moves in azimuth by no more than asin(sin r / cos tilt)."""
        assert self.azimuth is not None
        low, high = self.azimuth
        near_pole = steep + reach >= np.pi / 2.0 - np.radians(POLE_DEG)
        swing = np.arcsin(np.minimum(np.sin(np.minimum(reach, 1.5)) / np.cos(steep), 1.0))
        past = np.arctan2(seen[:, 1], seen[:, 0]) - (low - swing)
        within = np.mod(past, 2.0 * np.pi) <= high - low + 2.0 * swing + ROUNDING
        return np.asarray(near_pole | within)

    def rows(
        self, rotations: Floats, radii: Floats, corners: Floats, lengths: Floats, middle: Floats
    ) -> Floats:
        """Rows over (t, s) and their limits, (n, 0 or 2, 5), for offsets about ``middle``.

        c <= mid + high·half says p·max + (1−p)·min >= c with p = (1+high)/2, max and min over
        the corners along n; over the cell each is moved to its safe side by what a corner swings.
        """
        if self.offset is None:
            return np.zeros((len(rotations), 0, 5))
        n, c = self.boundary.normal, self.boundary.offset - self.boundary.normal @ middle
        along = np.einsum("nji,j,ki->nk", rotations, n, corners)
        swing = (2.0 * np.sin(radii / 2.0) + ROUNDING)[:, None] * lengths
        p, q = ((1.0 + end) / 2.0 for end in reversed(self.offset))
        most = p * (along + swing).max(axis=1) + (1.0 - p) * (along + swing).min(axis=1)
        least = q * (along - swing).max(axis=1) + (1.0 - q) * (along - swing).min(axis=1)
        rows = np.empty((len(rotations), 2, 5))
        rows[:, 0, :3], rows[:, 1, :3] = -n, n
        rows[:, 0, 3], rows[:, 1, 3] = -most, least
        slack = self.slack_mm + ROUNDING
        rows[:, 0, 4], rows[:, 1, 4] = -c + slack, c + slack
        return rows
