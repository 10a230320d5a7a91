"""Joint refinement: the stones of a division and its cuts move together, towards more worth."""

from collections.abc import Collection
from dataclasses import replace

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.climb import MET_MM
from optimizer.placement.search import Watch
from optimizer.running.workers import workers
from optimizer.several.ascent import AscentSettings, EvenGoal, WorthGoal, ascend
from optimizer.several.instance import Instance
from optimizer.several.joint import JointProblem, Layout, ParallelMap, layout_after, layout_at
from optimizer.several.joint_problem import as_division, joint_problem
from optimizer.several.model import Division
from optimizer.several.pair_constraints import pairs_hold
from optimizer.several.polish import polished

EFFORTS = {
    "quick": AscentSettings(0.1, 1e-3, 15),
    "normal": AscentSettings(0.1, 1e-4, 40),
    "thorough": AscentSettings(0.1, 1e-6, 120),
}
# A last ascent with a penalty so many times larger closes the smallest shortfalls.
STRICTER, CLOSING = 100.0, AscentSettings(0.01, 1e-9, 25)
SHAKE = (0.01, 0.3)  # of each stone's half length: how far away a restart begins
LOOSE = 0.98  # a stone left less than this share of its width by its cell is helped first
HOPELESS = 0.97  # of its least width: a stone that still has less once room is shared never fits


def refine(
    instance: Instance,
    division: Division,
    *,
    effort: str,
    watch: Watch,
    locked: Collection[int] = (),
    tries: int = 0,
    upright: Floats | None = None,
) -> Division | None:
    """The division with all stones and cuts moved together so that it is worth more, and each
    stone then exact in its own cell.

    The stones may at first be too large for their cells. Cuts with a ``locked`` number
    (``cuts_of``) keep their direction. ``tries`` is the number of restarts close to the best
    layout found, since the first ascent ends at one local optimum of many. None where no layout
    near this one gives every stone its least width, meets its demands and keeps every pair alike.
    But for rounding, the result is never worth less than a feasible division was.
    """
    settings = EFFORTS[effort]
    joint, given = joint_problem(instance, division, locked)
    with workers() as pool:
        poses = [(s.rotation, s.translation) for s in given.stones]
        at = layout_at(joint, poses, given.planes, pool.map)
        at = _room_shared(replace(joint, upright=upright), at, given, settings, watch, pool.map)
        if (at.widths < HOPELESS * joint.least_widths).any():
            return None
        at = _ascended(joint, at, settings, watch, pool.map)
        for number in range(tries):
            at = _restarted(joint, at, settings, number, watch, pool.map)
        at = polished(joint, at, pool.map)
    surface = instance.ground.surface
    if at.shortfalls(joint.least_widths).max() > MET_MM:
        return None
    if not all(surface.holds(s.translation) for s in at.stones):
        return None
    refined = as_division(instance, joint, division, at)
    return refined if pairs_hold(instance.wishes, refined.stones, joint.pairs) else None


def _room_shared(
    joint: JointProblem,
    at: Layout,
    given: Layout,
    settings: AscentSettings,
    watch: Watch,
    parallel_map: ParallelMap,
) -> Layout:
    """Where some cell is far too small, room is shared out until all stones have the widths
    given."""
    highest = [stone.problem.ceiling for stone in joint.stones]
    targets = np.clip(given.widths, joint.least_widths, highest)
    if (at.widths / targets).min() >= LOOSE:
        return at
    return ascend(joint, at, EvenGoal(targets), settings, 1.0, watch, parallel_map)


def _ascended(
    joint: JointProblem,
    at: Layout,
    settings: AscentSettings,
    watch: Watch,
    parallel_map: ParallelMap,
) -> Layout:
    """Ascent in worth. First every stone stays above its price break; where that fails, only the
    least widths count."""
    for floors in (joint.kept_widths, joint.least_widths):
        goal = WorthGoal.of(joint, at, floors)
        at = ascend(joint, at, goal, settings, np.inf, watch, parallel_map)
        if at.shortfalls(floors).max() <= MET_MM:
            return at
    strict = replace(goal, penalty=STRICTER * goal.penalty)
    return ascend(joint, at, strict, CLOSING, np.inf, watch, parallel_map)


def _restarted(
    joint: JointProblem,
    at: Layout,
    settings: AscentSettings,
    seed: int,
    watch: Watch,
    parallel_map: ParallelMap,
) -> Layout:
    """The better of a layout and the result of an ascent from close by (iterated local search,
    Lourenço, Martin and Stützle 2003)."""
    if watch.stop():
        return at
    rng = np.random.default_rng(seed)
    distance = np.exp(rng.uniform(*np.log(SHAKE)))
    shifts = rng.normal(size=(len(at.stones), 2, 3))
    shifts *= distance / np.linalg.norm(shifts, axis=2, keepdims=True)
    radii = np.array([stone.problem.mm_per_radian for stone in joint.stones])
    stones = (shifts * radii[:, None, None]).reshape(-1, 6)
    floors = np.minimum(joint.kept_widths, np.maximum(at.widths, joint.least_widths))
    goal = WorthGoal.of(joint, at, floors)
    start = layout_after(joint, at, stones, np.zeros((len(at.planes), 3)), parallel_map)
    new = ascend(joint, start, goal, settings, np.inf, watch, parallel_map)
    return new if goal.merit(new) > goal.merit(at) else at
