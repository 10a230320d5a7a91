"""The pool of candidates: many good placements of many designs in many sizes."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.mesh import Floats, even_directions
from optimizer.offers.offer import Offer
from optimizer.running.workers import workers
from optimizer.several.bricks import brick_divisions
from optimizer.several.candidates import candidates, distinct
from optimizer.several.frames import flats_of, frames_of
from optimizer.several.instance import Search
from optimizer.several.model import Candidate, Division, Wish, allowance_mm
from optimizer.several.pose_grids import PoseGrid, Sampling, pose_grid
from optimizer.several.shared_work import share_of
from optimizer.several.trial_cuts import CutJudge, TrialPiece
from optimizer.several.trial_divisions import TrialDivision, trial_divisions
from optimizer.several.trial_layouts import layouts_alike, layouts_of
from optimizer.several.twins import twins
from optimizer.several.worth import Worth

MOST_PIECES = 48  # no division into more pieces is tried
PARTS = 8  # grids are the same for any number of stones up to this one, and for any above it
APART_DEG = 12.0  # two directions of cuts closer than this count as one
ALONE = 2  # designs, at most, for which trial divisions are made by themselves
NEEDED = 1e3  # a stone that the order needs counts as much as so many of the best


_Placed = tuple[TrialPiece, list[Candidate]]


@dataclass(frozen=True)
class PoolBudget:
    """How much work the pool may take."""

    rotations: int  # of each offer's grid
    centres: int  # of each offer's grid
    directions: int  # of trial cuts
    beam: int  # divisions kept of each number of pieces
    trials: float  # poses compared with trial cuts, each cut and each pose counted once
    placed: int  # offers placed in pieces


# A plan of five stones takes a fiftieth of the trials of its effort, one of many kinds all of them.
BUDGETS = {
    "quick": PoolBudget(100, 500, 7, 3, 4e9, 1000),
    "normal": PoolBudget(200, 1000, 13, 6, 4e10, 4000),
    "thorough": PoolBudget(400, 2000, 25, 16, 4e11, 16_000),
}
LEAST_ROTATIONS = 24  # of each grid, where there are very many offers


@dataclass(frozen=True)
class Pool:
    """Candidates of every wish, each exact in the rough, most worth first; and layouts by their
    number of stones, some of which are narrower than ordered, the most promising first: of all
    designs together, of each of the best designs by itself, and of brick divisions."""

    candidates: tuple[Candidate, ...] = ()
    pieces: tuple[int, ...] = ()  # of the first trial division with each candidate
    layouts: tuple[Mapping[int, Sequence[Division]], ...] = ()


def pool(search: Search, grids: Sequence[PoseGrid]) -> Pool:
    """The best stones in the pieces of many trial divisions, for all designs together and for each
    of the best designs by itself, so that good sets of stones that can be sawn apart are among
    them.

    ``grids`` are the ``pose_grids`` of the same search. The same input gives the same candidates
    whatever the number of workers; a stop leaves those found.
    """
    if not grids:
        return Pool()
    instance, budget = search.instance, BUDGETS[search.effort]
    ground, wishes, allowance = instance.ground, instance.wishes, allowance_mm(instance.workshop)
    judge = CutJudge(grids, instance.offer_worth, len(wishes), _cut_directions(search), allowance)
    value = _value(wishes, instance.worth)
    tried = _tried(search, judge, value, budget.beam, budget.trials)
    frames, whole = frames_of(search.rough, ground), tried[0][0]
    bricks = _best_brick_divisions(judge, whole, value, frames, budget.beam)
    placed = _placed(search, judge, [*tried, *bricks])
    alone = [*_tried_alone(search, judge, value)]
    for own, divisions in alone:
        placed += _placed(search, own, divisions)
    made = distinct([one for _, some in placed for one in some if _is_wide_enough(one)])
    made = enlarged(made, twins(ground, made, wishes, 2.0 * allowance, instance.offer_worth))
    every = [*tried, *(division for _, divisions in alone for division in divisions)]
    first: dict[int, int] = {}
    for division in every:
        for piece in division:
            first.setdefault(id(piece), len(division))
    born = {id(one): first.get(id(piece), 1) for piece, some in placed for one in some}
    layouts = [
        layouts_of(search, own.grids, some, placed) for own, some in ((judge, tried), *alone)
    ]
    layouts.append(layouts_alike(search, grids, bricks))
    return Pool(made, tuple(born.get(id(one), 1) for one in made), tuple(layouts))


def _cut_directions(search: Search) -> Floats:
    """Normals (d, 3) of trial cuts, ground's frame."""
    rough, ground = search.rough, search.instance.ground
    cracks = [flaw.normal @ ground.ground2scan for flaw in rough.flaws if flaw.normal is not None]
    first = [*cracks, *np.eye(3), *flats_of(rough, ground)]
    return _directions(first, BUDGETS[search.effort].directions)


def _tried(
    search: Search, judge: CutJudge, value: Callable[[Floats], float], beam: int, trials: float
) -> list[TrialDivision]:
    whole, most = judge.whole_rough(search.instance.ground), _most_pieces(search.instance.wishes)
    return trial_divisions(judge, whole, value, most, beam, search.watch, trials)


def _tried_alone(
    search: Search, judge: CutJudge, value: Callable[[Floats], float]
) -> list[tuple[CutJudge, list[TrialDivision]]]:
    """For each of the best designs, trial divisions into stones of that design alone."""
    designs = dict.fromkeys(grid.offer.design.name for grid in judge.grids)
    if len(designs) < 2:
        return []
    found = []
    for name in designs:
        own = tuple(grid for grid in judge.grids if grid.offer.design.name == name)
        alone = replace(judge, grids=own, known={})
        trials = BUDGETS[search.effort].trials / len(designs)
        divisions = _tried(search, alone, value, 1, trials)
        best = max(value(np.array([piece.worths for piece in one])) for one in divisions)
        found.append((best, alone, divisions))
    found.sort(key=lambda one: -one[0])
    return [(alone, divisions) for _, alone, divisions in found[:ALONE]]


def _placed(search: Search, judge: CutJudge, divisions: Sequence[TrialDivision]) -> list[_Placed]:
    """Candidates in every piece of some divisions."""
    pieces = {id(piece): piece for division in divisions for piece in division}
    ground, price = search.instance.ground, search.instance.offer_worth
    most = BUDGETS[search.effort].placed
    return candidates(ground, judge.grids, tuple(pieces.values()), price, search.watch, most)


def _is_wide_enough(candidate: Candidate) -> bool:
    stone = candidate.stone
    return stone.placement.pose.width >= max(stone.offer.want.width_mm[0], 0.0)


def enlarged(found: Sequence[Candidate], more: Sequence[Candidate]) -> tuple[Candidate, ...]:
    """The pool with more candidates, without duplicates."""
    return distinct([*found, *more])


def _most_pieces(wishes: Sequence[Wish]) -> int:
    return min(sum(wish.most for wish in wishes), MOST_PIECES)


def pose_grids(search: Search) -> tuple[PoseGrid, ...]:
    """How large the stones of every offer can be at very many poses in the whole rough; offers
    that fit nowhere have no grid."""
    instance, budget, watch = search.instance, BUDGETS[search.effort], search.watch
    jobs = [(number, offer) for number, w in enumerate(instance.wishes) for offer in w.offers]
    sampling = Sampling(
        rotations=share_of(budget.rotations, len(jobs), LEAST_ROTATIONS),
        centres=budget.centres,
        parts=PARTS if _most_pieces(instance.wishes) <= PARTS else MOST_PIECES,
        frames=frames_of(search.rough, instance.ground),
        seed=search.seed,
    )

    def one(job: tuple[int, Offer]) -> PoseGrid | None:
        return None if watch.stop() else pose_grid(instance.ground, *job, sampling)

    made: list[PoseGrid] = []
    with workers() as threads:
        for done, grid in enumerate(threads.map(one, jobs), 1):
            if grid is not None and len(grid.widths):
                made.append(grid)
            watch.progress("estimating where stones fit", done, len(jobs), 0.0)
    return tuple(made)


def _best_brick_divisions(
    judge: CutJudge,
    whole_rough: TrialPiece,
    value: Callable[[Floats], float],
    frames: Sequence[Floats],
    count: int,
) -> list[TrialDivision]:
    """The best ``count`` brick divisions of each wish."""
    kept: list[TrialDivision] = []
    ranked = sorted(
        ((value(np.array([piece.worths for piece in division])), number, division)
         for number, division in brick_divisions(judge, whole_rough, frames)),
        key=lambda one: -one[0],
    )  # fmt: skip
    counts = [0] * judge.wishes
    for _, number, division in ranked:
        wish = judge.grids[number].wish
        if counts[wish] < count:
            counts[wish] += 1
            kept.append(division)
    return kept


def _directions(first: Sequence[Floats], count: int) -> Floats:
    """Normals of trial cuts (d, 3), ground's frame: the ``first``, then an even spread."""
    even = even_directions(4 * count)
    chosen: list[Floats] = []
    for normal in [*first, *even]:
        near = [abs(float(normal @ other)) for other in chosen]
        if len(chosen) < count and max(near, default=0.0) < np.cos(np.radians(APART_DEG)):
            chosen.append(np.asarray(normal, float))
    return np.array(chosen)


def _value(wishes: Sequence[Wish], worth: Worth) -> Callable[[Floats], float]:
    """The value of a division: the worths of its pieces' best stones, each wish within its count
    (an assignment problem), less the cuts."""

    def value(worths: Floats) -> float:
        from scipy.optimize import linear_sum_assignment

        pieces = len(worths)
        if all(wish.most >= pieces and wish.least == 0 for wish in wishes):
            best = worths.max(axis=1)
        else:
            needed = NEEDED * float(worths.max())
            columns = [
                worths[:, w] + np.where(worths[:, w] > 0.0, needed * (k < wish.least), 0.0)
                for w, wish in enumerate(wishes)
                for k in range(min(wish.most, pieces))
            ]
            table = np.array(columns).T
            best = table[linear_sum_assignment(table, maximize=True)]
        return float(best.sum()) - worth.cut * (pieces - 1)

    return value
