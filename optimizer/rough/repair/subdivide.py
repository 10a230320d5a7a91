"""A triangle divided so that given segments across it run along edges of its parts.

A constrained triangulation in exact arithmetic: points are put in one at a time, and an edge that a
segment crosses is flipped until none is left (Sloan 1993). A triangulation is held as a table from
each directed edge to the corner on its left.
"""

from collections import deque

from optimizer.rough.repair.exact import Point, UnclearError, turn

Fan = dict[tuple[int, int], int]


def subdivide(
    points: list[Point], segments: list[tuple[int, int]], axes: tuple[int, int]
) -> list[tuple[int, int, int]]:
    """Triangles over ``points``, the first three of which are the corners, counter-clockwise as
    seen along ``axes``. Raises UnclearError where a point lies on another or on a segment."""
    left: Fan = {}
    _add(left, 0, 1, 2)
    for number in range(3, len(points)):
        _insert(left, number, points, axes)
    for a, b in segments:
        _force(left, a, b, points, axes)
    return sorted((a, b, c) for (a, b), c in left.items() if a == min(a, b, c))


def _add(left: Fan, a: int, b: int, c: int) -> None:
    left[a, b], left[b, c], left[c, a] = c, a, b


def _remove(left: Fan, a: int, b: int, c: int) -> None:
    for edge in ((a, b), (b, c), (c, a)):
        del left[edge]


def _insert(left: Fan, p: int, points: list[Point], axes: tuple[int, int]) -> None:
    for (a, b), c in left.items():
        if a != min(a, b, c):
            continue
        turns = [turn(points[i], points[j], points[p], axes) for i, j in ((a, b), (b, c), (c, a))]
        if min(turns) < 0:
            continue
        if turns.count(0) > 1:
            raise UnclearError
        if 0 in turns:
            k = turns.index(0)
            _split_edge(left, (a, b, c)[k], (b, c, a)[k], p)
        else:
            _remove(left, a, b, c)
            for i, j in ((a, b), (b, c), (c, a)):
                _add(left, i, j, p)
        return
    raise UnclearError


def _split_edge(left: Fan, a: int, b: int, p: int) -> None:
    for i, j in ((a, b), (b, a)):
        if (i, j) in left:
            k = left[i, j]
            _remove(left, i, j, k)
            _add(left, i, p, k)
            _add(left, p, j, k)


def _force(left: Fan, a: int, b: int, points: list[Point], axes: tuple[int, int]) -> None:
    """Flip edges until one runs from a to b."""

    def crosses(p: int, q: int) -> bool:
        if {p, q} & {a, b}:
            return False
        ends = [(a, b, p), (a, b, q), (p, q, a), (p, q, b)]
        turns = [turn(points[i], points[j], points[k], axes) for i, j, k in ends]
        if turns[0] * turns[1] > 0 or turns[2] * turns[3] > 0 or turns[0] == turns[1] == 0:
            return False  # apart, or beyond an end on the same line
        if 0 in turns:
            raise UnclearError
        return True

    waiting = deque((p, q) for p, q in left if p < q and crosses(p, q))
    patience = 10 * (len(waiting) + 1) ** 2
    while waiting:
        p, q = waiting.popleft()
        r, s = left[p, q], left[q, p]
        if (
            turn(points[s], points[q], points[r], axes) > 0
            and turn(points[r], points[p], points[s], axes) > 0
        ):
            _remove(left, p, q, r)
            _remove(left, q, p, s)
            _add(left, s, q, r)
            _add(left, r, p, s)
            p, q = min(r, s), max(r, s)
            if crosses(p, q):
                waiting.append((p, q))
        else:
            waiting.append((p, q))
        patience -= 1
        if patience < 0:
            raise UnclearError
