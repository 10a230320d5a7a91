"""Where a placed stone is held, and how strongly: the linear program's multipliers there.

At a local best the contacts are in balance, like forces. Each force is the size that the stone
would gain for each mm by which the contact gave way.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from optimizer.mesh import Floats, cross
from optimizer.placement.climb import OBJECTIVE, Problem, State, situation
from optimizer.placement.containers import Container, Planes, Surface, in_scan
from optimizer.placement.growth import Growth
from optimizer.placement.holes import Hole, UnderTable
from optimizer.placement.kernels.linear import best_step
from optimizer.placement.patch import FLAT_MM, patch
from optimizer.placement.situation import Situation

TOUCH_MM = 5e-5  # a feature this near touches: a climb leaves less than this to spare
MOST = 4096  # features at most; more touch only where flats lie on each other
REACH_MM = 1e-3  # of the step that the multipliers are asked for: they hold at the placement itself


@dataclass(frozen=True)
class Touch:
    """One point that holds the stone, in the problem's own frame, with its row of the program."""

    container: int
    point: Floats  # (3,) on what holds the stone
    on_stone: Floats  # (3,)
    row: Floats  # (7,)
    limit: float
    per_mm: float  # how far the limit moves as the point gives way by a mm

    @property
    def normal(self) -> Floats:
        """The unit direction from stone to point, (3,)."""
        along: Floats = self.row[1:4] / np.linalg.norm(self.row[1:4])
        return along


@dataclass(frozen=True)
class Forces:
    """What each touch and each demand is worth, in σ: a touch per mm, a demand per its own mm.

    ``unbalanced`` (7,) is what they leave of the objective: nothing at a sharp best.
    """

    touches: tuple[Touch, ...]
    worths: Floats  # (t,)
    demands: tuple[float, ...]
    unbalanced: Floats

    @property
    def total(self) -> float:
        """Of all worths."""
        return float(self.worths.sum()) + sum(self.demands)

    @property
    def left_over(self) -> float:
        """The share of the objective, or of the forces, that nothing balances."""
        pushes = float(np.abs(self.unbalanced[1:]).max()) / max(self.total, 1e-12)
        return max(abs(float(self.unbalanced[0])), pushes)


def forces(problem: Problem, state: State) -> Forces:
    """The multipliers of all that touches the stone at a placement."""
    at = situation(problem, state)
    touches = tuple(
        touch
        for number, container in enumerate(problem.containers)
        for touch in _touches(at, container, number)
    )
    asked = [demand.rows(at) for demand in problem.demands]
    hard = np.array([touch.row for touch in touches]).reshape(-1, 7)
    soft = np.vstack([np.empty((0, 7)), *(rows for rows, _ in asked)])
    rows = np.zeros((len(hard) + len(soft) + 1, 8))
    rows[:-1, :7] = np.vstack([hard, soft])
    rows[len(hard) :, 7] = -1.0  # demands give way at a price, and never below nothing
    limits = np.concatenate([[t.limit for t in touches], *(limits for _, limits in asked), [0.0]])
    pace = min(g.pace for g in problem.growing.growths)
    box = np.array([1e3 * REACH_MM / pace] + [REACH_MM] * 6 + [1e3 * problem.mm_per_radian])
    _, multipliers, solved = best_step(rows, np.maximum(limits, 0.0), OBJECTIVE, box)
    assert solved  # no step at all meets every row
    ends = len(hard) + np.cumsum([0] + [len(limits) for _, limits in asked])
    return Forces(
        touches,
        np.array([t.per_mm for t in touches]) * multipliers[: len(hard)],
        tuple(float(multipliers[a:b].sum()) for a, b in pairwise(ends)),
        (OBJECTIVE - multipliers @ rows)[:7],
    )


def _touches(at: Situation, container: Container, number: int) -> Iterator[Touch]:
    band = TOUCH_MM / min(g.pace for g in at.growing.growths)
    for growth in at.near(band):
        inner, part = _unwrapped(container, growth)
        if isinstance(inner, Surface):
            yield from _on_surface(inner, part, number, at, band)
        elif isinstance(inner, Planes):
            yield from _on_planes(inner, part, number, at)


def _unwrapped(container: Container, growth: Growth) -> tuple[Container, Growth]:
    """The container inside any wrapper, and the part of the stone that it holds."""
    if isinstance(container, UnderTable):
        container, growth = container.container, growth.under_table
    return (container.surface if isinstance(container, Hole) else container), growth


def _on_surface(
    surface: Surface, growth: Growth, number: int, at: Situation, band: float
) -> Iterator[Touch]:
    growth = growth.kept(surface.extra_mm)
    placed = in_scan(growth, at.rotation, at.translation)
    found = surface.contacts(placed, np.inf, at.sigma + band, MOST)
    corners = placed[2] + placed[3] * at.sigma
    margin = growth.margin0 + growth.margin1 * at.sigma
    for index, point, pull, gauge in zip(
        found.index, found.points, found.pulls, found.gauges, strict=True
    ):
        per_mm, limit = float(np.linalg.norm(pull)), float(gauge) - at.sigma
        if limit > TOUCH_MM * per_mm:
            continue
        normal = pull / per_mm
        # Held by a rounded corner, what is told is the stone's own point once it has grown so far.
        own = float(point @ normal - (corners @ normal).max()) < 0.5 * margin
        there = point + normal * (growth.margin0 + growth.margin1 * gauge if own else 0.0)
        for place in patch(corners, surface.triangles[index], normal, there):
            row = np.concatenate(
                [[1.0], pull, cross(place - at.translation, pull) / at.mm_per_radian]
            )
            yield Touch(number, place, place - margin * normal, row, limit, per_mm)


def _on_planes(planes: Planes, growth: Growth, number: int, at: Situation) -> Iterator[Touch]:
    corners0, corners1 = growth.corners0 @ at.rotation.T, growth.corners1 @ at.rotation.T
    corners = corners0 + corners1 * at.sigma + at.translation
    margin = growth.margin0 + growth.margin1 * at.sigma
    for normal, offset in zip(planes.normals, planes.offsets, strict=True):
        room = offset - margin - corners @ normal
        for k in np.flatnonzero(room < TOUCH_MM):
            turning = cross(corners[k] - at.translation, normal) / at.mm_per_radian
            pace = float(corners1[k] @ normal) + growth.margin1
            row = np.concatenate([[pace], normal, turning])
            # How far off the wall's own plane lies is the order's, not the container's, to say.
            yield Touch(number, corners[k], corners[k], row, float(room[k]), 1.0)


def facets_at(problem: Problem, state: State, point: Floats) -> tuple[int, ...]:
    """The stone's facets that pass through a point (3,); none where it lies within the stone."""
    body, width = problem.growing.body, problem.growing.width(state.sigma)
    height = body.normals @ (state.rotation.T @ (point - state.translation))
    past = body.offsets_at(width) - height
    return tuple(int(i) for i in np.flatnonzero(past < 10.0 * FLAT_MM))
