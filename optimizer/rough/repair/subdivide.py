"""A triangle divided so that given segments across it run along edges of its parts.

A constrained triangulation in exact arithmetic: points are put in one at a time, found by a walk
from triangle to triangle, and an edge that a segment crosses is flipped until none is left (Sloan
1993, A fast algorithm for generating constrained Delaunay triangulations).
"""

from collections import deque
from dataclasses import dataclass, field

from optimizer.rough.repair.exact import ProjectedPoints, UnclearError


def subdivide(flat: ProjectedPoints, segments: list[tuple[int, int]]) -> list[tuple[int, int, int]]:
    """Triangles over the points, the first three of which are the corners, counter-clockwise as
    seen flat. Raises UnclearError where a point lies on another or on a segment."""
    parts = _Triangulation(flat)
    parts.add(0, 1, 2)
    for number in range(3, len(flat.points)):
        parts.insert(number)
    for a, b in segments:
        parts.force(a, b)
    return sorted(parts.triangles())


@dataclass
class _Triangulation:
    """A triangulation as a table from each directed edge to the corner on its left.

    ``born`` numbers the directed edges as they came, ``ahead`` names for each point the end of some
    edge from it.
    """

    flat: ProjectedPoints
    left: dict[tuple[int, int], int] = field(default_factory=dict)
    born: dict[tuple[int, int], int] = field(default_factory=dict)
    ahead: dict[int, int] = field(default_factory=dict)
    _births: int = 0

    def triangles(self) -> list[tuple[int, int, int]]:
        return [(a, b, c) for (a, b), c in self.left.items() if a == min(a, b, c)]

    def add(self, a: int, b: int, c: int) -> None:
        for p, q, r in ((a, b, c), (b, c, a), (c, a, b)):
            self.left[p, q], self.born[p, q], self.ahead[p] = r, self._births, q
            self._births += 1

    def remove(self, a: int, b: int, c: int) -> None:
        for edge in ((a, b), (b, c), (c, a)):
            del self.left[edge], self.born[edge]

    def insert(self, p: int) -> None:
        a, b, c = self._around(p)
        turns = [self.flat.turn(i, j, p) for i, j in ((a, b), (b, c), (c, a))]
        if turns.count(0) > 1:
            raise UnclearError
        if 0 in turns:
            k = turns.index(0)
            self._split((a, b, c)[k], (b, c, a)[k], p)
        else:
            self.remove(a, b, c)
            for i, j in ((a, b), (b, c), (c, a)):
                self.add(i, j, p)

    def _around(self, p: int) -> tuple[int, int, int]:
        """The triangle that holds a point, its lowest number first: by a walk over the edges that
        the point lies beyond, or where that runs in a circle by looking at all."""
        a, b = next(reversed(self.left))
        for _ in range(len(self.left)):
            c = self.left[a, b]
            beyond = [e for e in ((a, b), (b, c), (c, a)) if self.flat.turn(*e, p) < 0]
            if not beyond:
                lowest = min(a, b, c)
                return (a, b, c) if a == lowest else (b, c, a) if b == lowest else (c, a, b)
            a, b = beyond[-1][::-1]
            if (a, b) not in self.left:
                raise UnclearError
        for a, b, c in self.triangles():
            if all(self.flat.turn(i, j, p) >= 0 for i, j in ((a, b), (b, c), (c, a))):
                return a, b, c
        raise UnclearError

    def _split(self, a: int, b: int, p: int) -> None:
        for i, j in ((a, b), (b, a)):
            if (i, j) in self.left:
                k = self.left[i, j]
                self.remove(i, j, k)
                self.add(i, p, k)
                self.add(p, j, k)

    def force(self, a: int, b: int) -> None:
        """Flip edges until one runs from a to b."""
        waiting = deque(sorted(self._crossed(a, b), key=lambda edge: self.born[edge]))
        patience = 10 * (len(waiting) + 1) ** 2
        while waiting:
            p, q = waiting.popleft()
            r, s = self.left[p, q], self.left[q, p]
            if self.flat.turn(s, q, r) > 0 and self.flat.turn(r, p, s) > 0:
                self.remove(p, q, r)
                self.remove(q, p, s)
                self.add(s, q, r)
                self.add(r, p, s)
                p, q = min(r, s), max(r, s)
                if self._crosses(a, b, p, q):
                    waiting.append((p, q))
            else:
                waiting.append((p, q))
            patience -= 1
            if patience < 0:
                raise UnclearError

    def _crosses(self, a: int, b: int, p: int, q: int) -> bool:
        """Whether edge pq, none of whose ends lies on the line ab, crosses segment ab."""
        if {p, q} & {a, b}:
            return False
        turns = [self.flat.turn(*three) for three in ((a, b, p), (a, b, q), (p, q, a), (p, q, b))]
        return turns[0] * turns[1] < 0 and turns[2] * turns[3] < 0

    def _crossed(self, a: int, b: int) -> list[tuple[int, int]]:
        """The edges that segment ab crosses, lower number first, by a walk along it."""
        right, left = self._first_crossed(a, b)
        found = []
        while right != left:
            found.append((min(right, left), max(right, left)))
            apex = self.left[left, right]
            if apex == b:
                break
            side = self.flat.turn(a, b, apex)
            if side == 0:
                raise UnclearError
            right, left = (right, apex) if side > 0 else (apex, left)
        return found

    def _first_crossed(self, a: int, b: int) -> tuple[int, int]:
        """The edge across from a that segment ab leaves through: its ends to the right and left of
        ab; (b, b) where ab is an edge already."""
        right = self.ahead[a]
        while (right, a) in self.left and self.left[right, a] != self.ahead[a]:
            right = self.left[right, a]  # clockwise, to the border or once round
        for _ in range(len(self.left)):
            if right == b:
                return b, b
            left = self.left[a, right]
            if left == b:
                return b, b
            before, behind = self.flat.turn(a, b, right), self.flat.turn(a, b, left)
            if before < 0 < behind and self.flat.turn(right, left, b) < 0:
                return right, left
            if before == 0 and self.flat.turn(right, left, b) < 0:
                raise UnclearError  # through a point
            if (a, left) not in self.left:
                break
            right = left
        raise UnclearError
