"""Which saw cuts part a set of stones: a fork of planes that all stay clear of them, or a proof
that there is none.

A cut that clears every stone of a set clears those of each of its subsets. So any cut that parts
a set at all is a right first cut, and nothing need be taken back: a set can be sawn apart if and
only if none of its subsets is locked, that is, can't be parted by a first cut. A first cut with
stones A below and B above it exists if and only if the convex hulls of A and B are far enough
apart; where no likely way shows a gap, all such halves are gone through.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from optimizer.mesh import Floats, Ints, Plane, even_directions
from optimizer.several.apart import ROUNDING_MM, Apart, Corners, Sides, too_near
from optimizer.several.kernels.apart import SURELY
from optimizer.several.model import Fork

SPREAD = 200  # ways spread evenly: about 14 degrees apart
TRIALS = 20_000  # halves measured before the search gives up; a set of 12 takes some hundreds
PARALLEL = 1.0 - 1e-9  # cosine
ALIKE_MM = 1e-6  # gaps this near count as equal, so that rounding chooses nothing

Stones = tuple[int, ...]
Halves = tuple[Stones, Stones]


@dataclass(frozen=True)
class Parted:
    """The fork over all stones; or None, and the ``locked`` stones, which no cut parts. Where
    that is ``proved``, no saw cuts free any set that holds them, and any one of them left out
    frees the others (unless trials ran out); else no cut was found, and there may be one."""

    fork: Fork | int | None
    locked: Stones = ()
    proved: bool = False


def part(
    stones: Sequence[Floats],
    apart_mm: float,
    preferred: Sequence[Floats] = (),
    trials: int = TRIALS,
) -> Parted:
    """The fork of cuts that leaves each stone alone, each plane half of ``apart_mm`` or more from
    every stone on either side.

    ``stones``: the corners (n_i, 3) of each, scan frame, mm; at least one. ``preferred``: unit
    normals (3,), the best first. Of all cuts, one with a preferred normal or parallel to an
    earlier cut comes first; then the one that halves the stones most evenly; then the one with the
    widest gap, in the middle of which it runs. The same input gives the same fork.
    """
    search = _Search(Corners.of(stones), apart_mm, trials)
    near = np.argwhere(np.tril(too_near(search.corners, apart_mm)))
    if len(near):
        return Parted(None, (int(near[0, 1]), int(near[0, 0])), True)
    everything = tuple(range(len(stones)))
    parted = search.part(everything, np.array(preferred, float).reshape(-1, 3))
    return search.smallest(parted) if parted.proved else parted


@dataclass
class _Search:
    corners: Corners
    apart_mm: float
    trials: int  # left
    sure: bool = True  # whatever was found too near is shown to be so by two points
    spread: Floats = field(default_factory=lambda: even_directions(SPREAD))

    def part(self, stones: Stones, preferred: Floats) -> Parted:
        """As ``part`` does some of the stones; the first locked subset met where there is one."""
        if len(stones) == 1:
            return Parted(stones[0])
        cut = self._cut(stones, preferred)
        if cut is None:
            return Parted(None, stones, self.sure and self.trials >= 0)
        plane, halves = cut
        if not len(preferred) or np.abs(preferred @ plane.normal).max() < PARALLEL:
            preferred = np.vstack([preferred, plane.normal])
        forks = []
        for half in halves:
            parted = self.part(half, preferred)
            if parted.fork is None:
                return parted
            forks.append(parted.fork)
        return Parted(Fork(plane, *forks))

    def smallest(self, parted: Parted) -> Parted:
        """A set out of locked stones that is locked still, and none of which can be left out."""
        for stone in parted.locked:
            if stone not in parted.locked:
                continue
            fewer = self.part(tuple(s for s in parted.locked if s != stone), np.zeros((0, 3)))
            if fewer.proved:
                parted = fewer
        return parted

    def _cut(self, stones: Stones, preferred: Floats) -> tuple[Plane, Halves] | None:
        """The best first cut; None where there is none, or trials ran out."""
        ways = np.vstack([preferred, self._between(stones), self.spread])
        found = self._by_gap(stones, ways, len(preferred))
        if found is None:
            halves, way = self._by_halves(stones), None
        else:
            halves, way = found
        if halves is None:
            return None
        if way is None:
            way = self.corners.apart(self._side(halves)).way  # the widest gap
        return self._middle(halves, way), halves

    def _between(self, stones: Stones) -> Floats:
        """Unit ways (k, 3) between the middles of each two stones."""
        middles = self.corners.centres[list(stones)]
        one, other = np.triu_indices(len(stones), 1)
        ways = middles[other] - middles[one]
        size = np.linalg.norm(ways, axis=1)
        return np.asarray(ways[size > 0] / size[size > 0, None])

    def _reach(self, stones: Stones, ways: Floats) -> tuple[Floats, Floats]:
        """Least and greatest height (n, k) of each stone along each way."""
        heights = [
            self.corners.points[slice(*self.corners.spans[stone])] @ ways.T for stone in stones
        ]
        low = np.array([height.min(axis=0) for height in heights])
        high = np.array([height.max(axis=0) for height in heights])
        return low, high

    def _by_gap(
        self, stones: Stones, ways: Floats, preferred: int
    ) -> tuple[Halves, Floats | None] | None:
        """The halves on both sides of the best gap along any of the ways (k, 3); and the way,
        where it is one of the first ``preferred``."""
        low, high = self._reach(stones, ways)
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
        halves = tuple(sorted(ranked[:count])), tuple(sorted(ranked[count:]))
        return halves, ways[way] if way < preferred else None

    def _middle(self, halves: Halves, way: Floats) -> Plane:
        """The plane square to ``way`` (3,) in the middle of the gap between two halves."""
        high = self._reach(halves[0], way[None])[1].max()
        low = self._reach(halves[1], way[None])[0].min()
        return Plane(way, float((high + low) / 2.0))

    def _by_halves(self, stones: Stones) -> Halves | None:
        """Any halves that a cut parts, all being tried as long as trials last."""
        order = self._near_first(stones)
        side = np.zeros(len(self.corners.spans), np.int8)
        side[order[0]] = 1
        for _ in self._sides(order, 1, side, None):
            below, above = (tuple(s for s in stones if side[s] == which) for which in (1, 2))
            return below, above
        return None

    def _sides(self, order: Ints, count: int, side: Sides, way: Floats | None) -> Iterator[None]:
        """Fills ``side`` with each way to share the stones out, the first ``count`` as they are.

        Halves once too near stay so with more stones: nothing below them is tried.
        """
        if count == len(order):
            if way is not None:
                yield
            return
        stone = order[count]
        for which in (1, 2):
            side[stone] = which
            if which == 1 and way is None:
                yield from self._sides(order, count + 1, side, None)
                continue
            parted = self._tried(side, way)
            if parted is not None:
                yield from self._sides(order, count + 1, side, parted.way)
        side[stone] = 0

    def _tried(self, side: Sides, begin: Floats | None) -> Apart | None:
        """The two sides' distance where it is enough and trials are left."""
        self.trials -= 1
        if self.trials < 0:
            return None
        enough = self.apart_mm - ROUNDING_MM
        found = self.corners.apart(side, enough, enough * SURELY, begin)
        if found.gap_mm >= enough:
            return found
        self.sure &= found.mm < self.apart_mm
        return None

    def _near_first(self, stones: Stones) -> Ints:
        """The stones' order: from the middle one on, always the one nearest to those before."""
        middles = self.corners.centres[list(stones)]
        apart = np.linalg.norm(middles[:, None] - middles, axis=2)
        order = [int(np.argmin(np.round(apart.sum(axis=1), 6)))]
        while len(order) < len(stones):
            near = np.round(apart[:, order].min(axis=1), 6)
            near[order] = np.inf
            order.append(int(np.argmin(near)))
        return np.array(stones, np.int64)[order]

    def _side(self, halves: Halves) -> Sides:
        side = np.zeros(len(self.corners.spans), np.int8)
        for which in (0, 1):
            side[list(halves[which])] = which + 1
        return side
