"""Limits on how the crystal lies in the stone: the table to an axis, facets to cleavage planes.

Axes and cleavage normals count either way. A facet's angle to a plane is the angle between
their normals; an axis's angle to the table is 90 degrees where the table is square to it.
"""

from dataclasses import dataclass, replace

import numpy as np

from optimizer.mesh import Floats, cross, square_to
from optimizer.order import Range
from optimizer.placement.demands import DEGREE, Demand, RelaxedDemand, relaxed_by_a_degree
from optimizer.placement.rotations import aimed_rotations
from optimizer.placement.situation import Situation
from optimizer.wording.plain_number import plain

NEAR = 0.35  # radians from the limit: farther facets don't come near it in one step
SIDES = 8  # of the cone that a table square to the axis is held in, for one step
ALONG = 1e-9  # radians from the axis, or from a cleavage plane: any way leads out


@dataclass(frozen=True)
class Direction:
    """What an order asks of the crystal's directions, in one frame; angles in radians."""

    axis: Floats | None  # (3,) unit
    axis_to_table: Range  # (0, π/2) asks nothing
    cleavage: Floats  # (c, 3) unit normals
    clear: float  # least angle between any facet and any cleavage plane

    def in_frame(self, axes: Floats) -> "Direction":
        """The same in the frame whose axes are the columns of ``axes`` (3, 3)."""
        axis = None if self.axis is None else self.axis @ axes
        return replace(self, axis=axis, cleavage=self.cleavage @ axes)

    @property
    def share(self) -> float:
        """Share of all directions that the axis may have, seen from the stone."""
        low, high = np.sin(self.axis_to_table)
        return 1.0 if self.axis is None else float(high - low)

    def rotations(self, count: int, seed: int) -> Floats:
        """Rotations (count, 3, 3) that keep the axis's angle to the table, evenly; half of them
        for each way of the axis."""
        assert self.axis is not None
        ends, around, half = self.axis_to_table, (-np.pi, np.pi), count // 2
        one = aimed_rotations(self.axis, ends, around, count - half, seed)
        other = aimed_rotations(-self.axis, ends, around, half, seed + 1)
        return np.concatenate([one, other])

    def demands(self) -> tuple[Demand, ...]:
        """For the search, in this frame."""
        found: list[Demand] = []
        if self.axis is not None:
            found.append(AxisToTable(self.axis, *self.axis_to_table))
        if len(self.cleavage):
            found.append(OffCleavage(self.cleavage, self.clear))
        return tuple(found)


@dataclass(frozen=True)
class AxisToTable:
    """The angle between an axis of the crystal and the table's plane, between two ends."""

    axis: Floats  # (3,) unit
    low: float  # radians, 0 to π/2
    high: float

    @property
    def sentence(self) -> str:
        """See Demand."""
        low, high = np.degrees([self.low, self.high])
        return f"table {plain(low)} to {plain(high)}° from the axis"

    def _lean(self, at: Situation) -> tuple[float, Floats, Floats]:
        """The angle from the axis to the table's normal, in radians, and the stone's turns about
        which it grows fastest and not at all."""
        z = at.rotation[:, 2]
        axis = -self.axis if self.axis @ z < 0.0 else self.axis
        across = cross(axis, z)
        size = float(np.linalg.norm(across))
        out = across / size if size > ALONG else square_to(z)
        return float(np.arctan2(size, axis @ z)), out, cross(z, out)

    def clearance(self, at: Situation) -> float:
        """See Demand."""
        lean = self._lean(at)[0]
        spare = [np.inf]
        if self.low > 0.0:
            spare.append(0.5 * np.pi - self.low - lean)
        if self.high < 0.5 * np.pi:
            spare.append(lean - (0.5 * np.pi - self.high))
        return float(min(spare)) * at.mm_per_radian

    def rows(self, at: Situation) -> tuple[Floats, Floats]:
        """See Demand. The table's normal stays in a double cone about the axis (many flat sides,
        since at its tip no single one says where to go) and out of a narrower one."""
        lean, out, across = self._lean(at)
        rows, limits = [], []
        if self.low > 0.0:
            stretch = lean / np.sin(lean) if lean > ALONG else 1.0
            for way in 2.0 * np.pi / SIDES * np.arange(SIDES):
                rows.append(np.cos(way) * out + np.sin(way) * stretch * across)
                limits.append(0.5 * np.pi - self.low - lean * np.cos(way))
        if self.high < 0.5 * np.pi:
            least = 0.5 * np.pi - self.high
            rows += [-out, out]
            limits += [lean - least, np.pi - least - lean]
        return _turns_only(rows, at), np.array(limits) * at.mm_per_radian

    def relaxed(self, mm_per_radian: float, half: float) -> RelaxedDemand:
        """See Demand."""
        low, high = max(0.0, self.low - DEGREE), min(0.5 * np.pi, self.high + DEGREE)
        return relaxed_by_a_degree(replace(self, low=low, high=high), mm_per_radian)


@dataclass(frozen=True)
class OffCleavage:
    """No facet lies within an angle of a cleavage plane."""

    normals: Floats  # (c, 3) unit
    clear: float  # radians

    @property
    def sentence(self) -> str:
        """See Demand."""
        return f"no facet within {plain(np.degrees(self.clear))}° of a cleavage plane"

    def _angles(self, at: Situation) -> tuple[Floats, Floats, Floats]:
        """Angle in radians (n,) of each facet to each plane, facet and plane normals (n, 3) that
        point the same way."""
        facets = at.growing.body.normals @ at.rotation.T
        facet = np.repeat(facets, len(self.normals), axis=0)
        plane = np.tile(self.normals, (len(facets), 1))
        cosine = np.einsum("ni,ni->n", facet, plane)
        plane = np.where(cosine[:, None] < 0.0, -plane, plane)
        sine = np.linalg.norm(cross(facet, plane), axis=1)
        return np.arctan2(sine, np.abs(cosine)), facet, plane

    def clearance(self, at: Situation) -> float:
        """See Demand."""
        return float(self._angles(at)[0].min() - self.clear) * at.mm_per_radian

    def rows(self, at: Situation) -> tuple[Floats, Floats]:
        """See Demand."""
        angles, facets, planes = self._angles(at)
        rows, limits = [], []
        near = np.flatnonzero(angles < self.clear + NEAR)
        for k in near:
            across = cross(planes[k], facets[k])
            size = float(np.linalg.norm(across))
            rows.append(-across / size if size > ALONG else square_to(facets[k]))
            limits.append(angles[k] - self.clear)
        table = _turns_only(rows, at)
        slopes = at.shape_slopes(lambda there: self._angles(there)[0], len(angles))
        table[:, 7:] = -at.mm_per_radian * slopes[near]
        return table, np.array(limits) * at.mm_per_radian

    def relaxed(self, mm_per_radian: float, half: float) -> RelaxedDemand:
        """See Demand."""
        return relaxed_by_a_degree(
            replace(self, clear=max(0.0, self.clear - DEGREE)), mm_per_radian
        )


def _turns_only(turns: list[Floats], at: Situation) -> Floats:
    rows = np.zeros((len(turns), 7 + len(at.growing.nudges)))
    if turns:
        rows[:, 4:7] = turns
    return rows
