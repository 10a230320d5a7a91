"""Climbing in pose, size and the free parameters of a design together, for the most volume.

The same sequential linear programs as ``climb``, with one unknown more for each free parameter
and the volume as objective. A contact that holds the stone in direction d at the body's point z
gives way by the change of the body's reach there: Σ μ_i (∂b_i/∂p − ∂a_i/∂p·z) over the facets
a_i that meet in z, with d = Σ μ_i a_i (``Growth.reach_slopes``).
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from optimizer.design.family import Family
from optimizer.design.model import Body
from optimizer.mesh import Floats
from optimizer.order import Range
from optimizer.placement.climb import (
    BAND,
    PENALTY,
    Problem,
    State,
    follow,
    linear_rows,
    stand,
    turned,
)
from optimizer.placement.containers import Container
from optimizer.placement.demands import Demand
from optimizer.placement.growing import Growing, growing_by_width, growing_in_shape
from optimizer.placement.rotations import orthonormal

NUDGE = 1e-3  # of a parameter's range: the planes are polynomials, so this far is exact enough
VOLUME_STEP = 1e-6  # of the width: for the slope of the volume


@dataclass(frozen=True)
class SizeLimits:
    """Least and greatest measures of a finished stone, in mm and mm³."""

    width_mm: Range
    length_mm: Range
    volume_mm3: Range


@dataclass(frozen=True)
class Freedom:
    """What may be chosen beside the pose."""

    family: Family
    window: Callable[[Body], Range]  # least and greatest width in mm that a body may have
    limits: SizeLimits  # the same, said of all bodies


@dataclass(frozen=True)
class Shaped:
    """A pose and size with the parameters of the body, its size as the edge of an equal cube."""

    values: Floats  # (q,) of the free parameters
    body: Body
    state: State
    cube_mm: float
    short_mm: float  # what the width lacks of the least that is ordered

    @staticmethod
    def of(values: Floats, body: Body, state: State, low: float) -> "Shaped":
        """A state of a body whose least width is ``low``."""
        return Shaped(values, body, state, _cube(body, state.sigma), max(0.0, low - state.sigma))

    @property
    def unmet(self) -> float:
        """What the worst demand lacks, mm."""
        return max(self.state.unmet, self.short_mm)

    @property
    def merit(self) -> float:
        """What the climb makes greater."""
        return self.cube_mm - PENALTY * self.unmet


@dataclass(frozen=True)
class ShapeHill:
    """Size, shift, turn and free parameters, inside ``containers``."""

    freedom: Freedom
    skin_mm: float
    containers: tuple[Container, ...]
    demands: tuple[Demand, ...]
    mm_per_radian: float
    reach: Floats  # (q,) mm that a corner moves at most for one unit of each parameter

    @property
    def pace(self) -> float:
        """See Hill."""
        return self.freedom.family.pace

    def at(
        self, values: Floats, body: Body, rotation: Floats, place: Floats, floor: float
    ) -> Shaped:
        """A body standing at a pose, as large as it may be there; where its merit is below
        ``floor`` it may be given too low."""
        low, high = self.freedom.window(body)
        growing = growing_by_width(body, self.skin_mm, 0.0)
        problem = Problem(growing, self.containers, self.demands, self.mm_per_radian, high)
        least = body.width_for_volume(floor**3) if floor > 0.0 else -np.inf
        state = stand(problem, rotation, place, least)
        return Shaped.of(values, body, state, low)

    def moved(self, at: Shaped, step: Floats) -> Shaped | None:
        """See Hill."""
        family = self.freedom.family
        values = np.clip(at.values + step[7:-1] / self.reach, family.low, family.high)
        body = family.body(values)
        if body is None:
            return None
        rotation = turned(at.state.rotation, step[4:7], self.mm_per_radian)
        return self.at(values, body, rotation, at.state.translation + step[1:4], at.merit)

    def program(self, at: Shaped, radius: float) -> tuple[Floats, Floats, Floats]:
        """See Hill."""
        growing = self._growing(at)
        low, high = self.freedom.window(at.body)
        problem = Problem(growing, self.containers, self.demands, self.mm_per_radian, high)
        rows, limits = linear_rows(problem, at.state, BAND * radius / self.pace)
        slopes = _slopes(growing, lambda body: np.array(self.freedom.window(body)))
        rows[0, 7:-1] = -slopes[:, 1]
        narrow = np.concatenate([[-1.0], np.zeros(6), slopes[:, 0], [-1.0]])
        rows = np.vstack([rows, narrow, *_ends(len(self.reach))])
        ends = self.freedom.family.high - at.values, at.values - self.freedom.family.low
        limits = np.concatenate([limits, [at.state.sigma - low], *ends])
        rows[:, 7:-1] /= self.reach
        return np.ascontiguousarray(rows), limits, self._objective(at, growing)

    def _growing(self, at: Shaped) -> Growing:
        cell = self.freedom.family.cell(at.values)
        assert cell is not None  # at.body came out of it
        body, nudged = at.body, []
        if len(body.vertices) != len(cell.base.vertices):  # where a keel just ends in a point
            body = cell.body(at.values) or body
        for step in np.diag(NUDGE * (self.freedom.family.high - self.freedom.family.low)):
            plus, minus = cell.body(at.values + step), cell.body(at.values - step)
            if plus is None or minus is None or len(plus.vertices) != len(body.vertices):
                # a corner is about to part: hold this parameter
                plus = minus = body
            nudged.append((plus, minus, 2.0 * float(step.max())))
        return growing_in_shape(body, nudged, self.skin_mm, 0.0)

    def _objective(self, at: Shaped, growing: Growing) -> Floats:
        width = at.state.sigma
        wider, narrower = (_cube(at.body, width * (1.0 + s)) for s in (VOLUME_STEP, -VOLUME_STEP))
        by_shape = _slopes(growing, lambda body: np.array([_cube(body, width)]))[:, 0]
        by_width = (wider - narrower) / (2.0 * VOLUME_STEP * width)
        return np.concatenate([[by_width], np.zeros(6), by_shape / self.reach, [-PENALTY]])


def shape_climb(
    hill: ShapeHill, start: Shaped, *, radius: float, tolerance: float, steps: int
) -> Shaped:
    """``climb`` with the free parameters; ``tolerance`` in mm of the equal cube's edge."""
    best = follow(hill, start, hill.mm_per_radian, radius, tolerance, steps)
    state = replace(best.state, rotation=orthonormal(best.state.rotation))
    return replace(best, state=state)


def _cube(body: Body, width: float) -> float:
    """The edge of the cube of equal volume, mm; negative for a width below nothing."""
    return float(np.cbrt(body.volume_at(width))) if width > 0.0 else width


def _slopes(growing: Growing, measure: Callable[[Body], Floats]) -> Floats:
    """How a measure (n,) of the body changes with each free parameter, (q, n); 0 where it is
    without end."""
    rows = []
    for nudge in growing.nudges:
        plus, minus = measure(nudge.plus.body), measure(nudge.minus.body)
        known = np.isfinite(plus) & np.isfinite(minus)
        apart = np.subtract(plus, minus, out=np.zeros(len(plus)), where=known)
        rows.append(apart / nudge.step)
    return np.array(rows)


def _ends(free: int) -> tuple[Floats, Floats]:
    """Rows that hold each free parameter under its greatest value, and over its least."""
    up = np.hstack([np.zeros((free, 7)), np.eye(free), np.zeros((free, 1))])
    return up, -up
