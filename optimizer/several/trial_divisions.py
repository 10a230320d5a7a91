"""Trial divisions: how saw cuts could divide the rough so that each piece holds a good stone.

Divisions grow by one piece at a time, and the best few with each number of pieces are kept (a beam
search). The pieces of one division can be sawn apart by construction.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.search import Watch
from optimizer.running.workers import workers
from optimizer.several.trial_cuts import CutJudge, TrialCut, TrialPiece

SAME = 1e-9  # relative: divisions whose values differ by no more count as equally good
VALUED = 1e5  # one valuation of a division costs as much work as so many trials
PATIENCE = 3  # the search ends after so many more pieces without a better division

TrialDivision = tuple[TrialPiece, ...]
Walls = frozenset[tuple[float, ...]]


def trial_divisions(
    judge: CutJudge,
    whole_rough: TrialPiece,
    value: Callable[[Floats], float],
    most: int,
    beam: int,
    watch: Watch,
    trials: float,
) -> list[TrialDivision]:
    """Good divisions into 1, 2, ... ``most`` pieces, ``beam`` of each number.

    ``value`` is that of a division, by the worths of its pieces (pieces, wishes). Once the budget
    of ``trials`` is spent, no further piece is cut.
    """
    last: list[TrialDivision] = [(whole_rough,)]
    found, best, waited = list(last), value(np.array([whole_rough.worths])), 0
    with workers() as pool:
        while len(last[0]) < most and waited < PATIENCE and not watch.stop():
            trials -= _judge_cuts(judge, last, trials, pool)
            last, top = _grown(judge, last, value, beam)
            if not last:
                break
            waited = 0 if top > best * (1.0 + SAME) else waited + 1
            best = max(best, top)
            found += last
            watch.progress("trying cuts into more pieces", len(last[0]), most, 0.0)
    return found


def _judge_cuts(
    judge: CutJudge, last: Sequence[TrialDivision], trials: float, pool: ThreadPoolExecutor
) -> float:
    """Evaluate the cuts of all pieces of these divisions, as far as the budget of ``trials``
    allows; the number of trials spent. The whole rough is evaluated in any case."""
    pieces = {id(piece): piece for division in last for piece in division}
    fresh = [piece for key, piece in pieces.items() if key not in judge.known]
    spent = np.cumsum([judge.trials(piece) for piece in fresh])
    within = int((spent <= trials).sum()) if len(last[0]) > 1 else len(fresh)
    for piece in fresh[within:]:
        judge.leave_whole(piece)
    for _ in pool.map(judge.cuts, fresh[:within]):
        pass
    valued = sum(len(judge.cuts(piece)) for division in last for piece in division)
    return VALUED * valued + (float(spent[within - 1]) if within else 0.0)


def _grown(
    judge: CutJudge, last: Sequence[TrialDivision], value: Callable[[Floats], float], beam: int
) -> tuple[list[TrialDivision], float]:
    """The best divisions with one piece more, and the value of the best.

    Of equally good cuts, the one that takes off the thinnest slice comes first, since it leaves
    the most for further stones.
    """
    options: list[tuple[float, float, int, int, TrialCut]] = []
    for d, division in enumerate(last):
        for k, piece in enumerate(division):
            others = [p.worths for j, p in enumerate(division) if j != k]
            for cut in judge.cuts(piece):
                worth = value(np.array([*others, *cut.worths]))
                options.append((-worth, cut.slice_mm, d, k, cut))
    options.sort(key=lambda option: option[:4])
    made: dict[int, tuple[TrialPiece, TrialPiece]] = {}
    grown: dict[frozenset[Walls], TrialDivision] = {}
    children = [0] * len(last)
    for _, _, d, k, cut in options:
        if len(grown) == beam:
            break
        if children[d] >= max(2, beam // 2):
            continue
        if id(cut) not in made:
            made[id(cut)] = judge.pieces(cut)
        division = (*last[d][:k], *made[id(cut)], *last[d][k + 1 :])
        same = frozenset(map(_rounded_walls, division))
        if same not in grown:
            grown[same] = division
            children[d] += 1
    return list(grown.values()), -options[0][0] if options else -np.inf


def _rounded_walls(piece: TrialPiece) -> Walls:
    """The walls of a piece, which identify it whatever the order of its cuts."""
    return frozenset((*w.normal.round(6), round(w.offset, 6)) for w in piece.walls)
