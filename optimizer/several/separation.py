"""Which saw cuts separate a set of stones: a tree of planes that all stay clear of every stone, or
a proof that there is none.

A cut that clears every stone of a set clears those of each of its subsets. So every plane that
separates a set at all is a right first cut, and the search never backtracks: a set can be sawn
apart if and only if none of its subsets is locked, that is, allows no first cut. A first cut with
stones A below and B above it exists if and only if the convex hulls of A and B are far enough
apart. Where no likely direction shows a gap, all such splits are enumerated.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from optimizer.mesh import Floats, Ints, Plane, even_directions
from optimizer.several.cut_tree import CutTree
from optimizer.several.hull_distance import (
    ROUNDING_MM,
    HullDistance,
    Sides,
    conflicts,
    corners_of,
    distance_between,
)
from optimizer.several.kernels.hull_distance import SURELY, Corners

SPREAD = 200  # directions spread evenly: about 14 degrees apart
TRIALS = 20_000  # splits measured before the search gives up; a set of 12 takes some hundreds
PARALLEL = 1.0 - 1e-9  # cosine
ALIKE_MM = 1e-6  # gaps this close to one another count as equal, so that rounding decides nothing

Stones = tuple[int, ...]
Split = tuple[Stones, Stones]


@dataclass(frozen=True)
class Separation:
    """The tree of cuts over all stones; or None, and the ``locked`` stones, which no cut separates.

    Where that is ``proved``, no saw cuts free any set that contains the locked stones, and without
    any one of them the others can be sawn apart (unless trials ran out). Where it is not, no cut
    was found, and there may be one.
    """

    cut_tree: CutTree | int | None
    locked: Stones = ()
    proved: bool = False


def separate(
    stones: Sequence[Floats],
    apart_mm: float,
    preferred: Sequence[Floats] = (),
    trials: int = TRIALS,
) -> Separation:
    """The tree of cuts that leaves each stone alone in its piece. Every plane keeps half of
    ``apart_mm`` or more from every stone on either side.

    ``stones``: the corners (n_i, 3) of each, scan frame, mm; at least one. ``preferred``: unit
    normals (3,), the best first. Of all cuts, one with a preferred normal or parallel to an earlier
    cut comes first; then the one that splits the stones most evenly; then the one with the widest
    gap, in the middle of which it runs. The same input gives the same tree.
    """
    search = _Separator(corners_of(stones), apart_mm, trials)
    near = np.argwhere(np.tril(conflicts(search.corners, apart_mm)))
    if len(near):
        return Separation(None, (int(near[0, 1]), int(near[0, 0])), True)
    everything = tuple(range(len(stones)))
    found = search.separate(everything, np.array(preferred, float).reshape(-1, 3))
    return search.minimal(found) if found.proved else found


@dataclass
class _Separator:
    corners: Corners
    apart_mm: float
    trials: int  # left
    sure: bool = True  # two points prove every split that was refused to be too near
    spread: Floats = field(default_factory=lambda: even_directions(SPREAD))

    def separate(self, stones: Stones, preferred: Floats) -> Separation:
        """``separate`` for some of the stones. Where they can't be separated, the locked stones are
        the first locked subset found."""
        if len(stones) == 1:
            return Separation(stones[0])
        cut = self._cut(stones, preferred)
        if cut is None:
            return Separation(None, stones, self.sure and self.trials >= 0)
        plane, split = cut
        if not len(preferred) or np.abs(preferred @ plane.normal).max() < PARALLEL:
            preferred = np.vstack([preferred, plane.normal])
        branches = []
        for part in split:
            found = self.separate(part, preferred)
            if found.cut_tree is None:
                return found
            branches.append(found.cut_tree)
        return Separation(CutTree(plane, *branches))

    def minimal(self, found: Separation) -> Separation:
        """A subset of the locked stones that is still locked, and no longer is without any one of
        its stones."""
        for stone in found.locked:
            if stone not in found.locked:
                continue
            fewer = self.separate(tuple(s for s in found.locked if s != stone), np.zeros((0, 3)))
            if fewer.proved:
                found = fewer
        return found

    def _cut(self, stones: Stones, preferred: Floats) -> tuple[Plane, Split] | None:
        """The best first cut; None where there is none, or trials ran out."""
        ways = np.vstack([preferred, self._between(stones), self.spread])
        found = self._by_gap(stones, ways, len(preferred))
        if found is None:
            split, way = self._by_enumeration(stones), None
        else:
            split, way = found
        if split is None:
            return None
        if way is None:
            way = distance_between(self.corners, self._side(split)).way  # the widest gap
        return self._middle(split, way), split

    def _between(self, stones: Stones) -> Floats:
        """Unit directions (k, 3) between the centres of each two stones."""
        centres = self.corners.centres[list(stones)]
        one, other = np.triu_indices(len(stones), 1)
        ways = centres[other] - centres[one]
        size = np.linalg.norm(ways, axis=1)
        return np.asarray(ways[size > 0] / size[size > 0, None])

    def _extents(self, stones: Stones, ways: Floats) -> tuple[Floats, Floats]:
        """Least and greatest height (n, k) of each stone along each direction."""
        heights = [
            self.corners.points[slice(*self.corners.spans[stone])] @ ways.T for stone in stones
        ]
        low = np.array([height.min(axis=0) for height in heights])
        high = np.array([height.max(axis=0) for height in heights])
        return low, high

    def _by_gap(
        self, stones: Stones, ways: Floats, preferred: int
    ) -> tuple[Split, Floats | None] | None:
        """The split by the best gap along any of the directions (k, 3); and the direction, where
        it is one of the first ``preferred``."""
        low, high = self._extents(stones, ways)
        order = np.argsort(low, axis=0, kind="stable")
        low = np.take_along_axis(low, order, axis=0)
        high = np.maximum.accumulate(np.take_along_axis(high, order, axis=0), axis=0)
        gaps = low[1:] - high[:-1]
        places = np.argwhere(gaps >= self.apart_mm - ROUNDING_MM)
        if not len(places):
            return None
        below, which = places[:, 0] + 1, places[:, 1]
        uneven = np.abs(2 * below - len(stones))
        width = np.round(gaps[places[:, 0], which] / ALIKE_MM)
        best = np.lexsort((which, -width, uneven, which >= preferred))[0]
        count, way = int(below[best]), int(which[best])
        ranked = [stones[i] for i in order[:, way]]
        split = tuple(sorted(ranked[:count])), tuple(sorted(ranked[count:]))
        return split, ways[way] if way < preferred else None

    def _middle(self, split: Split, way: Floats) -> Plane:
        """The plane square to ``way`` (3,) in the middle of the gap between the two parts."""
        high = self._extents(split[0], way[None])[1].max()
        low = self._extents(split[1], way[None])[0].min()
        return Plane(way, float((high + low) / 2.0))

    def _by_enumeration(self, stones: Stones) -> Split | None:
        """Any split that a cut allows; all are tried as long as trials last."""
        order = self._near_first(stones)
        side = np.zeros(len(self.corners.spans), np.int8)
        side[order[0]] = 1
        for _ in self._splits(order, 1, side, None):
            below, above = (tuple(s for s in stones if side[s] == which) for which in (1, 2))
            return below, above
        return None

    def _splits(self, order: Ints, count: int, side: Sides, way: Floats | None) -> Iterator[None]:
        """Fill ``side`` with each feasible split in turn; the first ``count`` stones of ``order``
        are assigned already.

        Two parts that are too near one another stay so with more stones, so that branch is pruned.
        """
        if count == len(order):
            if way is not None:
                yield
            return
        stone = order[count]
        for which in (1, 2):
            side[stone] = which
            if which == 1 and way is None:
                yield from self._splits(order, count + 1, side, None)
                continue
            found = self._far_enough(side, way)
            if found is not None:
                yield from self._splits(order, count + 1, side, found.way)
        side[stone] = 0

    def _far_enough(self, side: Sides, begin: Floats | None) -> HullDistance | None:
        """The distance of the two sides; None where it is too small or no trials are left."""
        self.trials -= 1
        if self.trials < 0:
            return None
        enough = self.apart_mm - ROUNDING_MM
        found = distance_between(self.corners, side, enough, enough * SURELY, begin)
        if found.gap_mm >= enough:
            return found
        self.sure &= found.mm < self.apart_mm
        return None

    def _near_first(self, stones: Stones) -> Ints:
        """The stones in order: the most central one, then always the one nearest to those
        before."""
        centres = self.corners.centres[list(stones)]
        distances = np.linalg.norm(centres[:, None] - centres, axis=2)
        order = [int(np.argmin(np.round(distances.sum(axis=1), 6)))]
        while len(order) < len(stones):
            near = np.round(distances[:, order].min(axis=1), 6)
            near[order] = np.inf
            order.append(int(np.argmin(near)))
        return np.array(stones, np.int64)[order]

    def _side(self, split: Split) -> Sides:
        side = np.zeros(len(self.corners.spans), np.int8)
        for which in (0, 1):
            side[list(split[which])] = which + 1
        return side
