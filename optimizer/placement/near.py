"""A stone placed again near where it lies, under changed demands."""

from dataclasses import replace

import numpy as np

from optimizer.placement.climb import Problem, State
from optimizer.placement.containers import Container
from optimizer.placement.flat_rows import FlatSurface
from optimizer.placement.ground import Ground
from optimizer.placement.growing import Growing, growing_by_clearance, growing_by_width
from optimizer.placement.model import Placement
from optimizer.placement.place import Want, as_placement, demands_of, walls_of
from optimizer.placement.search import FINISHING, SETTLING, Watch, climb_all, close_by

STARTS = 4  # rounds of starts about the place, each as large as a round of a search


def state_of(ground: Ground, placement: Placement) -> State:
    """A placement in the ground's own frame."""
    pose = ground.own_pose(placement.pose)
    return State(pose.width, pose.rotation, pose.translation, 0.0)


def starts_about(state: State, mm_per_radian: float) -> list[State]:
    """The state, and others close by."""
    return [state, *(one for k in range(STARTS) for one in close_by([state], mm_per_radian, k))]


def place_near(ground: Ground, want: Want, there: Placement, watch: Watch) -> Placement | None:
    """The largest placement found by climbs from about ``there``, exact on the whole surface; at
    the upper end of its window where its clearance is greatest. None where none meets what is
    asked."""
    low, high = want.width_mm
    growing = growing_by_width(want.body, want.skin_mm, low)
    start = state_of(ground, there)
    problem = _problem(ground, want, growing, high, start.sigma)
    starts = starts_about(start, problem.mm_per_radian)
    settled = climb_all(problem, starts, watch, "settling near the best place", SETTLING)
    top = max(settled, key=lambda state: state.merit)
    (best,) = climb_all(problem, [top], watch, "settling the last hundredths", FINISHING)
    if not best.met or best.sigma < low:
        return None
    if best.sigma >= high:
        best = clearest(ground, want, best, watch)
    return as_placement(ground, want, best)


def clearest(ground: Ground, want: Want, state: State, watch: Watch) -> State:
    """The stone of the same width, nearby, where it lies farthest from the surface."""
    growing = growing_by_clearance(want.body, state.sigma)
    problem = _problem(ground, want, growing, np.inf, state.sigma)
    (best,) = climb_all(problem, [state], watch, "settling the last hundredths", FINISHING)
    if not best.met or best.sigma < want.skin_mm:
        return state
    return replace(best, sigma=state.sigma)


def _problem(ground: Ground, want: Want, growing: Growing, ceiling: float, width: float) -> Problem:
    mm_per_radian = float(np.linalg.norm(want.body.vertices_at(width), axis=1).max())
    rough: Container = FlatSurface.like(ground.surface)
    containers = (rough, *walls_of(ground, want))
    return Problem(growing, containers, demands_of(ground, want), mm_per_radian, ceiling)
