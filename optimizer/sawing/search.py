"""Which cuts, in which order: a small beam search on the stand-in, then a polish.

A cut's worth is the carats of the offcut it keeps; waste that it saves from grinding counts for a
quarter of its carats. Both are choices of our own.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Floats
from optimizer.order import Workshop
from optimizer.sawing.depth import least_width
from optimizer.sawing.directions import Direction
from optimizer.sawing.standin import StandIn

Bools = NDArray[np.bool_]

BEAM = 8  # sequences carried along
WASTE_WORTH = 0.25  # a carat of waste sawn off against a carat kept
PLAIN_BONUS = 1.1  # a cut that is easy to set up may keep a tenth less
BORDERLINE = 0.95  # caps this near to the rule are left to the full mesh to decide
POLISH_DEG = (6.0, 3.0, 1.5)
POLISH_ROUNDS = 3


@dataclass(frozen=True)
class Task:
    """One stone's sawing, in the stone frame: ``corners`` (k, 3) of the stone, mm."""

    stand_in: StandIn
    corners: Floats
    workshop: Workshop
    ct_per_mm3: float
    allowance_mm: float  # from the middle of the kerf to the stone

    def offsets(self, normals: Floats) -> Floats:
        """Planes nearest to the stone that its allowance lets, for outward normals (n, 3)."""
        return np.asarray((normals @ self.corners.T).max(axis=1) + self.allowance_mm)


@dataclass(frozen=True)
class Caps:
    """What each of k cuts would take off one piece."""

    carats: Floats  # (k,)
    rise_mm: Floats  # (k,) height beyond the finished stone's side of the kerf
    worth: Floats  # (k,) -1 where the rule doesn't ask for the cut


@dataclass(frozen=True)
class _Pool:
    """Candidates measured once over all points (n of them): heights (n, k) and both kerf faces."""

    directions: list[Direction]
    heights: Floats
    near: Floats
    far: Floats
    bonus: Floats


@dataclass(frozen=True)
class _Sequence:
    chosen: tuple[int, ...]
    left: Bools  # (n,) points of the piece that holds the stone
    worth: float


def choose(task: Task, candidates: list[Direction]) -> tuple[Direction, ...]:
    """The cuts to saw, in order; the one that leaves the dopping flat comes first."""
    pool = _pool(task, candidates)
    everything = np.ones(len(task.stand_in.points), bool)
    best = _Sequence((), everything, 0.0)
    beam = [best]
    for _ in range(task.workshop.most_cuts):
        beam = _distinct([child for parent in beam for child in _children(task, pool, parent)])
        if not beam:
            break
        best = max([best, *beam], key=lambda s: round(s.worth, 6))
    return polish(task, tuple(pool.directions[i] for i in best.chosen))


def sequence_worth(task: Task, cuts: tuple[Direction, ...]) -> float:
    """Summed worth of the cuts sawn in this order; -1 where the rule asks for one of them not."""
    left = np.ones(len(task.stand_in.points), bool)
    total = 0.0
    for cut in cuts:
        pool = _pool(task, [cut])
        worth = float(_caps(task, pool, left).worth[0])
        if worth < 0 or depth(task, cut, left) > task.workshop.saw_reach_mm:
            return -1.0
        total += worth
        left = left & (pool.heights[:, 0] < pool.near[0])
    return total


def still_worth(task: Task, done: tuple[Direction, ...], candidates: list[Direction]) -> Caps:
    """What the candidates would take off the piece that the cuts already done leave."""
    sawn = _pool(task, list(done))
    left = np.asarray((sawn.heights < sawn.near).all(axis=1))
    return _caps(task, _pool(task, candidates), left)


def depth(task: Task, cut: Direction, left: Bools) -> float:
    """About how far the blade must reach for a cut through the points that are left, mm."""
    height = task.stand_in.points @ cut.normal - task.offsets(cut.normal[None])[0]
    within = left & (np.abs(height) <= max(task.stand_in.spacing_mm, task.workshop.kerf_mm) / 2)
    u = np.cross(cut.normal, np.eye(3)[int(np.argmin(np.abs(cut.normal)))])
    frame = np.array([u, np.cross(cut.normal, u)]) / np.linalg.norm(u)
    return least_width(task.stand_in.points[within] @ frame.T)


def polish(task: Task, cuts: tuple[Direction, ...]) -> tuple[Direction, ...]:
    """Turn each cut in turn by a few degrees as long as the sequence gains by it."""
    best = sequence_worth(task, cuts)
    for degrees in POLISH_DEG:
        for _ in range(POLISH_ROUNDS):
            before = best
            for k in range(len(cuts)):
                for turned in _turned(cuts[k], degrees):
                    trial = (*cuts[:k], turned, *cuts[k + 1 :])
                    worth = sequence_worth(task, trial)
                    if round(worth, 6) > round(best, 6):
                        cuts, best = trial, worth
            if best <= before:
                break
    return cuts


def _turned(cut: Direction, degrees: float) -> Iterator[Direction]:
    """The direction turned eight ways; the cut that leaves the dopping flat stays."""
    if cut.table:
        return
    u = np.cross(cut.normal, np.eye(3)[int(np.argmin(np.abs(cut.normal)))])
    u = u / np.linalg.norm(u)
    v = np.cross(cut.normal, u)
    for way in range(8):
        aside = np.cos(way * np.pi / 4) * u + np.sin(way * np.pi / 4) * v
        normal = cut.normal + np.tan(np.radians(degrees)) * aside
        yield replace(
            cut, normal=normal / np.linalg.norm(normal), name="at a free angle", plain=False
        )


def _pool(task: Task, candidates: list[Direction]) -> _Pool:
    normals = np.array([d.normal for d in candidates]).reshape(-1, 3)
    middle = task.offsets(normals)
    half = task.workshop.kerf_mm / 2.0
    heights = task.stand_in.points @ normals.T
    bonus = np.array([PLAIN_BONUS if d.plain else 1.0 for d in candidates])
    return _Pool(candidates, heights, middle - half, middle + half, bonus)


def _caps(task: Task, pool: _Pool, left: Bools) -> Caps:
    shop = task.workshop
    heights = pool.heights[left]
    shares = task.stand_in.shares[left] * task.ct_per_mm3
    carats = shares @ (heights > pool.far)
    rise = heights.max(axis=0) - pool.near
    kept = carats >= BORDERLINE * shop.keep_offcut_ct
    asked = (kept | (rise > shop.grind_mm)) & (carats > 0)
    worth = np.where(kept, carats, WASTE_WORTH * carats) * pool.bonus
    return Caps(carats, rise, np.where(asked, worth, -1.0))


def _children(task: Task, pool: _Pool, parent: _Sequence) -> list[_Sequence]:
    """The sequence with each of its most worthwhile next cuts that the saw can reach through."""
    worth = _caps(task, pool, parent.left).worth
    if not parent.chosen:
        worth = _flat_first(task, pool, parent, worth)
    children: list[_Sequence] = []
    for k in np.argsort(-np.round(worth, 6), kind="stable"):
        if worth[k] < 0 or len(children) == BEAM:
            break
        if depth(task, pool.directions[k], parent.left) <= task.workshop.saw_reach_mm:
            left = parent.left & (pool.heights[:, k] < pool.near[k])
            total = parent.worth + float(worth[k])
            children.append(_Sequence((*parent.chosen, int(k)), left, total))
    return children


def _flat_first(task: Task, pool: _Pool, parent: _Sequence, worth: Floats) -> Floats:
    """Only the cut that leaves the dopping flat, where the rule asks for it and the saw reaches."""
    table = np.array([d.table for d in pool.directions])
    for k in np.flatnonzero(table & (worth >= 0)):
        if depth(task, pool.directions[k], parent.left) <= task.workshop.saw_reach_mm:
            return np.where(table, worth, -1.0)
    return worth


def _distinct(children: list[_Sequence]) -> list[_Sequence]:
    """The best few, one for each set of cuts in whatever order."""
    ranked = sorted(children, key=lambda s: (-round(s.worth, 6), s.chosen))
    best: dict[frozenset[int], _Sequence] = {}
    for sequence in ranked:
        best.setdefault(frozenset(sequence.chosen), sequence)
    return list(best.values())[:BEAM]
