"""Which caps are cut off, in which order: a beam search on the volume sample, then a local search.

A cut is worth the carats of the offcut that it keeps, or a quarter of the carats of waste that it
saves from grinding. Both weights are choices of our own.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Floats, frame_about
from optimizer.order import Workshop
from optimizer.sawing.depth import deepest_mm, least_width
from optimizer.sawing.directions import CutDirection
from optimizer.sawing.model import LEAST_WASTE_CT
from optimizer.sawing.volume_sample import VolumeSample

Bools = NDArray[np.bool_]

BEAM = 8  # sequences kept
SIBLINGS_APART = 0.98  # cosine (11 degrees): nearer directions of one next cut crowd the beam
WASTE_WORTH = 0.25  # a carat of waste sawn off against a carat kept
EASY_BONUS = 1.1  # a cut that is easy to set up may keep a tenth less
BORDERLINE = 0.95  # of the rule's limits: from here on the full mesh decides
HALVINGS = 7  # bisections of a cap's height, to find how far out the saw reaches through
OUT_TEXT = ", farther out for the saw's reach"
REFINE_DEG = (6.0, 3.0, 1.5)
REFINE_ROUNDS = 3


@dataclass(frozen=True)
class SawTask:
    """What the search for caps needs, in the stone frame: ``corners`` (k, 3) of the stone or of all
    stones of a group, mm."""

    sample: VolumeSample
    corners: Floats
    workshop: Workshop
    ct_per_mm3: float
    allowance_mm: float  # from the middle of the kerf to the stone

    def levels(self, cuts: Sequence[CutDirection]) -> Floats:
        """Offsets (k,) of the cuts' planes: as near to the stone as the allowance lets, moved
        outwards by each cut's ``out_mm``."""
        normals = np.array([cut.normal for cut in cuts]).reshape(-1, 3)
        out = np.array([cut.out_mm for cut in cuts])
        reach = _along(self.corners, normals).max(axis=0)
        return np.asarray(reach + self.allowance_mm + out)


@dataclass(frozen=True)
class CutGains:
    """What each of k cuts would take off one piece."""

    carats: Floats  # (k,)
    rise_mm: Floats  # (k,) height of the cap above the kerf's face on the stone's side
    worth: Floats  # (k,) -1 where the rule doesn't ask for the cut


@dataclass(frozen=True)
class _Candidates:
    """The k candidate cuts, measured once at all n points of the volume sample."""

    directions: list[CutDirection]
    heights: Floats  # (n, k) of the points along the cuts' normals
    near: Floats  # (k,) heights of the kerfs' faces on the stone's side
    off: Floats  # (n, k) 1 where the point comes off with the cap, else 0
    bonus: Floats  # (k,) factors on the worth


@dataclass(frozen=True)
class _Sequence:
    chosen: tuple[int, ...]
    remaining: Bools  # (n,) points of the piece that holds the stone
    worth: float
    greedy: bool  # whether it always took the next cut of most worth; then it is never dropped


def choose_cuts(
    task: SawTask, candidates: list[CutDirection], stop: Callable[[], bool] = lambda: False
) -> tuple[CutDirection, ...]:
    """The cuts to saw, in order; the one that leaves the dopping flat comes first.

    Once ``stop`` is true only the best sequence so far is continued, and nothing is refined.
    """
    everything = np.ones(len(task.sample.points), bool)
    pool = _measured_worth_trying(task, candidates, everything)
    best = _Sequence((), everything, 0.0, True)
    beam = [best]
    for _ in range(task.workshop.most_cuts):
        beam = _distinct([child for parent in beam for child in _children(task, pool, parent)])
        if not beam:
            break
        best = max([best, *beam], key=lambda s: round(s.worth, 6))
        if stop():
            beam = [max(beam, key=lambda s: round(s.worth, 6))]
    return refine(task, tuple(pool.directions[i] for i in best.chosen), stop)


def sequence_worth(task: SawTask, cuts: tuple[CutDirection, ...], to_beat: float = -1.0) -> float:
    """The total worth of the cuts sawn in this order; -1 where the rule doesn't ask for one of
    them, where the saw doesn't reach through, or where the total doesn't exceed ``to_beat``."""
    return _worth_of(task, [_measured(task, [cut]) for cut in cuts], to_beat)


def _worth_of(task: SawTask, cuts: Sequence[_Candidates], to_beat: float) -> float:
    """``sequence_worth`` of cuts, each measured by itself."""
    remaining = np.ones(len(task.sample.points), bool)
    total, pieces = 0.0, []
    for pool in cuts:
        worth = float(_gains(task, pool, remaining).worth[0])
        if worth < 0:
            return -1.0
        total += worth
        pieces.append(remaining)
        remaining = remaining & (pool.heights[:, 0] < pool.near[0])
    if round(total, 6) <= round(to_beat, 6):
        return -1.0
    reached = (
        in_reach(task, pool.directions[0], piece) for pool, piece in zip(cuts, pieces, strict=True)
    )
    return total if all(reached) else -1.0


def remaining_gains(
    task: SawTask, done: tuple[CutDirection, ...], candidates: list[CutDirection]
) -> tuple[CutGains, Bools]:
    """What the candidates would take off the piece that is left after the cuts ``done``, and which
    points (n,) of the volume sample lie in that piece."""
    sawn = _measured(task, list(done))
    remaining = np.asarray((sawn.heights < sawn.near).all(axis=1))
    return _gains(task, _measured(task, candidates), remaining), remaining


def in_reach(task: SawTask, cut: CutDirection, remaining: Bools) -> bool:
    """Whether the saw certainly reaches through the remaining points. The surface may lie half the
    points' spacing outside them on either side."""
    reach = deepest_mm(task.workshop)
    if task.sample.span_mm <= reach:
        return True
    return depth(task, cut, remaining) + task.sample.spacing_mm <= reach


def depth(task: SawTask, cut: CutDirection, remaining: Bools) -> float:
    """Approximately how deep in mm the blade must cut through the remaining points."""
    height = _along(task.sample.points, cut.normal[None])[:, 0] - task.levels([cut])[0]
    within = remaining & (np.abs(height) <= max(task.sample.spacing_mm, task.workshop.kerf_mm) / 2)
    return least_width(_along(task.sample.points[within], frame_about(cut.normal)[:2]))


def refine(
    task: SawTask, cuts: tuple[CutDirection, ...], stop: Callable[[], bool] = lambda: False
) -> tuple[CutDirection, ...]:
    """Tilt one cut after another by a few degrees, as long as the sequence gains by it."""
    measured = [_measured(task, [cut]) for cut in cuts]
    best = _worth_of(task, measured, -1.0)
    for degrees in REFINE_DEG:
        for _ in range(REFINE_ROUNDS):
            before = best
            for k in range(len(cuts)):
                if stop():
                    break
                for turned in _turned(measured[k].directions[0], degrees):
                    trial = [*measured[:k], _measured(task, [turned]), *measured[k + 1 :]]
                    worth = _worth_of(task, trial, best)
                    if worth > best:
                        measured, best = trial, worth
            if best <= before or stop():
                break
    return tuple(pool.directions[0] for pool in measured)


def _turned(cut: CutDirection, degrees: float) -> Iterator[CutDirection]:
    """The direction tilted towards eight sides; the cut that leaves the dopping flat stays."""
    if cut.table:
        return
    u, v, _ = frame_about(cut.normal)
    name = "at a free angle" + (OUT_TEXT if cut.out_mm else "")
    for way in range(8):
        aside = np.cos(way * np.pi / 4) * u + np.sin(way * np.pi / 4) * v
        normal = cut.normal + np.tan(np.radians(degrees)) * aside
        yield replace(cut, normal=normal / np.linalg.norm(normal), name=name, easy=False)


def _along(points: Floats, directions: Floats) -> Floats:
    """Coordinates (n, k) of points along k directions.

    This uses einsum, since on a busy machine the threads of ``@`` cost more than such small sums.
    """
    return np.asarray(np.einsum("nj,kj->nk", points, directions))


def _measured(task: SawTask, candidates: list[CutDirection]) -> _Candidates:
    normals = np.array([d.normal for d in candidates]).reshape(-1, 3)
    middle = task.levels(candidates)
    half = task.workshop.kerf_mm / 2.0
    heights = _along(task.sample.points, normals)
    bonus = np.array([EASY_BONUS if d.easy else 1.0 for d in candidates])
    off = (heights > middle + half).astype(np.float64)
    return _Candidates(candidates, heights, middle - half, off, bonus)


def _measured_worth_trying(
    task: SawTask, candidates: list[CutDirection], everything: Bools
) -> _Candidates:
    """The candidates that the rule asks for on the whole rough, measured: a cut that the rule
    doesn't ask for there is never asked for on a part of it. Cuts that are easy to set up but
    beyond the saw's reach are offered farther out, too."""
    caps = _gains(task, _measured(task, candidates), everything)
    worth = [k for k in range(len(candidates)) if caps.worth[k] >= 0]
    deep = [
        k for k in worth if candidates[k].easy and not in_reach(task, candidates[k], everything)
    ]
    farther = [_farther_out(task, candidates[k], everything, caps.rise_mm[k]) for k in deep]
    return _measured(task, [candidates[k] for k in worth] + farther)


def _farther_out(
    task: SawTask, cut: CutDirection, remaining: Bools, rise_mm: float
) -> CutDirection:
    """The cut moved outwards until the saw reaches through (by bisection)."""
    low, high = 0.0, float(rise_mm)
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        reached = in_reach(task, replace(cut, out_mm=middle), remaining)
        low, high = (low, middle) if reached else (middle, high)
    return replace(cut, name=cut.name + OUT_TEXT, table=False, out_mm=high)


def _gains(task: SawTask, pool: _Candidates, remaining: Bools) -> CutGains:
    shop = task.workshop
    shares = task.sample.shares * remaining * task.ct_per_mm3
    carats = np.einsum("n,nk->k", shares, pool.off)
    rise = pool.heights[remaining].max(axis=0, initial=-np.inf) - pool.near
    kept = carats >= BORDERLINE * shop.keep_offcut_ct
    asked = kept | ((rise > shop.grind_mm) & (carats >= BORDERLINE * LEAST_WASTE_CT))
    worth = np.where(kept, carats, WASTE_WORTH * carats) * pool.bonus
    return CutGains(carats, rise, np.where(asked, worth, -1.0))


def _children(task: SawTask, pool: _Candidates, parent: _Sequence) -> list[_Sequence]:
    """The sequence continued by each of the next cuts of most worth that the saw reaches
    through."""
    worth = _gains(task, pool, parent.remaining).worth
    if not parent.chosen:
        worth = _flat_first(task, pool, parent, worth)
    children: list[_Sequence] = []
    tried: list[Floats] = []
    for k in np.argsort(-np.round(worth, 6), kind="stable"):
        if worth[k] < 0 or len(children) == BEAM:
            break
        normal = pool.directions[k].normal
        if any(normal @ other > SIBLINGS_APART for other in tried):
            continue
        if in_reach(task, pool.directions[k], parent.remaining):
            children.append(_child(pool, parent, int(k), float(worth[k]), not tried))
            tried.append(normal)
    return children


def _child(pool: _Candidates, parent: _Sequence, k: int, worth: float, first: bool) -> _Sequence:
    remaining = parent.remaining & (pool.heights[:, k] < pool.near[k])
    chosen = (*parent.chosen, k)
    return _Sequence(chosen, remaining, parent.worth + worth, parent.greedy and first)


def _flat_first(task: SawTask, pool: _Candidates, parent: _Sequence, worth: Floats) -> Floats:
    """The worths of first cuts: only the cut that leaves the dopping flat counts, where the rule
    asks for it and the saw reaches through."""
    table = np.array([d.table for d in pool.directions], bool)
    for k in np.flatnonzero(table & (worth >= 0)):
        if in_reach(task, pool.directions[k], parent.remaining):
            return np.where(table, worth, -1.0)
    return worth


def _distinct(children: list[_Sequence]) -> list[_Sequence]:
    """The best few sequences, one for each set of cuts whatever their order."""
    ranked = sorted(children, key=lambda s: (-round(s.worth, 6), s.chosen))
    best: dict[frozenset[int], _Sequence] = {}
    for sequence in ranked:
        cuts = frozenset(sequence.chosen)
        known = best.setdefault(cuts, sequence)
        if sequence.greedy:  # the same cuts in any order leave the same piece
            best[cuts] = replace(known, greedy=True)
    return [s for rank, s in enumerate(best.values()) if rank < BEAM or s.greedy]
