"""Layouts from trial divisions: in each piece a stone that climbs or the pose grids found there."""

from collections.abc import Mapping, Sequence

import numpy as np

from optimizer.several.candidates import square_stones
from optimizer.several.frames import frames_of
from optimizer.several.instance import Instance, Search
from optimizer.several.model import Candidate, Division, allowance_mm
from optimizer.several.pose_grids import PoseGrid
from optimizer.several.separation import separate
from optimizer.several.sizes import sized
from optimizer.several.trial_cuts import TrialPiece
from optimizer.several.trial_divisions import TrialDivision

LAYOUTS, FREE_LAYOUTS = 6, 2  # of each number of stones; where no stone has a size that counts


def layouts_of(
    search: Search,
    grids: Sequence[PoseGrid],
    tried: Sequence[TrialDivision],
    placed: Sequence[tuple[TrialPiece, Sequence[Candidate]]],
) -> Mapping[int, Sequence[Division]]:
    """Layouts of the first divisions tried of each number of pieces: with the best stones found,
    and where stones have sizes that count, with stones that all lie alike, their tables square to
    one way."""
    most = LAYOUTS if sized(search.instance, grids) else FREE_LAYOUTS
    found: dict[int, list[Candidate]] = {}
    for piece, some in placed:
        found.setdefault(id(piece), []).extend(some)
    made: dict[int, list[Division]] = {}
    for division in tried:
        own = made.setdefault(len(division), [])
        if len(own) < most:
            free = _layout(search.instance, [found.get(id(piece), []) for piece in division])
            alike = _lying_alike(search, grids, division)
            own += [layout for layout in (free, alike) if layout is not None]
    return made


def layouts_alike(
    search: Search, grids: Sequence[PoseGrid], bricks: Sequence[TrialDivision]
) -> Mapping[int, Sequence[Division]]:
    """Layouts of divisions into bricks, by their number of stones, which lie alike in each."""
    made: dict[int, list[Division]] = {}
    for division in bricks:
        layout = _lying_alike(search, grids, division)
        if layout is not None:
            made.setdefault(len(division), []).append(layout)
    return made


def _lying_alike(
    search: Search, grids: Sequence[PoseGrid], division: TrialDivision
) -> Division | None:
    """A layout of stones that all lie alike, their tables square to the best of the ways of the
    rough's frames; None where no stones have sizes that count, or none fits in some piece."""
    instance = search.instance
    if not sized(instance, grids):
        return None
    ways = np.concatenate(frames_of(search.rough, instance.ground))
    lying = (
        _layout(instance, [square_stones(instance, grids, piece, way) for piece in division])
        for way in ways
    )
    return max(filter(None, lying), key=instance.division_worth, default=None)


def _layout(instance: Instance, inside: Sequence[Sequence[Candidate]]) -> Division | None:
    """A stone of each piece, of those found ``inside``, and the cuts between them: all together
    worth most within the counts wanted. Stones may be narrower than ordered. None where some piece
    gets no stone."""
    from scipy.optimize import linear_sum_assignment

    places = [
        w for w, wish in enumerate(instance.wishes) for _ in range(min(wish.most, len(inside)))
    ]
    best = [[_best(some, wish) for wish in range(len(instance.wishes))] for some in inside]
    table = [[(one.worth if (one := row[w]) else 0.0) for w in places] for row in best]
    pieces, columns = linear_sum_assignment(np.array(table), maximize=True)
    chosen = [best[p][places[c]] for p, c in zip(pieces, columns, strict=True)]
    stones = tuple(one.stone for one in chosen if one is not None)
    if len(stones) < len(inside):
        return None
    corners = [stone.placement.mesh().vertices for stone in stones]
    cut_tree = separate(corners, 2.0 * allowance_mm(instance.workshop), trials=0).cut_tree
    return None if cut_tree is None else Division(stones, cut_tree)


def _best(found: Sequence[Candidate], wish: int) -> Candidate | None:
    own = (one for one in found if one.stone.wish == wish)
    return max(own, key=lambda one: one.worth, default=None)
