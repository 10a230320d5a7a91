"""Layouts from trial divisions: in each piece a stone that climbs or the pose grids found there."""

from collections.abc import Sequence

import numpy as np

from optimizer.several.instance import Instance
from optimizer.several.model import Candidate, Division, allowance_mm
from optimizer.several.separation import separate


def trial_layout(instance: Instance, inside: Sequence[Sequence[Candidate]]) -> Division | None:
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
