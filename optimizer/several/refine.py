"""Joint refinement: the stones of a division and its cuts move together, for more worth."""

from collections.abc import Collection
from dataclasses import replace

import numpy as np

from optimizer.placement.climb import MET_MM
from optimizer.placement.search import WORKERS, Watch
from optimizer.placement.workers import workers
from optimizer.several.ascent import Ascending, MostEven, MostWorth, ascend
from optimizer.several.joined import Site, as_division, joined
from optimizer.several.joint import Joint, Layout, ParallelMap, stepped, stood
from optimizer.several.model import Division
from optimizer.several.pairing import still_paired
from optimizer.several.polish import polished

EFFORTS = {
    "quick": Ascending(0.1, 1e-3, 15),
    "normal": Ascending(0.1, 1e-4, 40),
    "thorough": Ascending(0.1, 1e-6, 120),
}
DEAR, MENDING = 100.0, Ascending(0.01, 1e-9, 25)  # for the last hair that a stone lacks
REACH = (0.01, 0.3)  # of each stone's half length: how far off a try starts
LOOSE = 0.98  # a stone left less than this share of its width by its cell is helped first


def refine(
    site: Site,
    division: Division,
    *,
    effort: str,
    watch: Watch,
    locked: Collection[int] = (),
    tries: int = 0,
) -> Division | None:
    """The division with all stones and cuts moved together so that it is worth more, and each
    stone then exact in its own cell.

    It may begin with stones too large for their cells. Cuts of a ``locked`` number (``cuts_of``)
    keep their direction. So many ``tries`` start anew from close by the best: what is found first
    is one top of many. None where near here some stone can't have its least width or meet its
    demands, or a pair would look alike no longer. But for rounding, never worth less than a
    division that was in order.
    """
    how = EFFORTS[effort]
    joint, given = joined(site, division, locked)
    with workers(WORKERS) as pool:
        poses = [(s.rotation, s.translation) for s in given.stones]
        at = stood(joint, poses, given.planes, pool.map)
        at = _helped(joint, at, given, how, watch, pool.map)
        at = _worthier(joint, at, how, watch, pool.map)
        for number in range(tries):
            at = _tried(joint, at, how, number, watch, pool.map)
        at = polished(joint, at, pool.map)
    surface = site.ground.surface
    if at.short(joint.least).max() > MET_MM:
        return None
    if not all(surface.holds(s.translation) for s in at.stones):
        return None
    refined = as_division(site, joint, division, at)
    return refined if still_paired(site.wishes, refined.stones, joint.pairs) else None


def _helped(
    joint: Joint, at: Layout, given: Layout, how: Ascending, watch: Watch, each: ParallelMap
) -> Layout:
    """Room shared out where some cell is far too small, until all have the widths given."""
    highest = [m.problem.ceiling for m in joint.members]
    targets = np.clip(given.widths, joint.least, highest)
    if (at.widths / targets).min() >= LOOSE:
        return at
    return ascend(joint, at, MostEven(targets), how, 1.0, watch, each)


def _worthier(joint: Joint, at: Layout, how: Ascending, watch: Watch, each: ParallelMap) -> Layout:
    """Uphill in worth; breaks of prices that can't be kept are let go."""
    for floors in (joint.kept, joint.least):
        aim = MostWorth.of(joint, at, floors)
        at = ascend(joint, at, aim, how, np.inf, watch, each)
        if at.short(floors).max() <= MET_MM:
            return at
    dear = replace(aim, price=DEAR * aim.price)
    return ascend(joint, at, dear, MENDING, np.inf, watch, each)


def _tried(
    joint: Joint, at: Layout, how: Ascending, seed: int, watch: Watch, each: ParallelMap
) -> Layout:
    """The better of a layout and what a climb from close by finds (iterated local search,
    Lourenço, Martin and Stützle 2003)."""
    if watch.stop():
        return at
    rng = np.random.default_rng(seed)
    reach = np.exp(rng.uniform(*np.log(REACH)))
    shifts = rng.normal(size=(len(at.stones), 2, 3))
    shifts *= reach / np.linalg.norm(shifts, axis=2, keepdims=True)
    levers = np.array([m.problem.lever for m in joint.members])
    stones = (shifts * levers[:, None, None]).reshape(-1, 6)
    aim = MostWorth.of(joint, at, np.minimum(joint.kept, np.maximum(at.widths, joint.least)))
    start = stepped(joint, at, stones, np.zeros((len(at.planes), 3)), each)
    new = ascend(joint, start, aim, how, np.inf, watch, each)
    return new if aim.merit(new) > aim.merit(at) else at


__all__ = ["Site", "refine"]
