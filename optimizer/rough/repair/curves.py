"""Where a surface passes through itself: the curves, exactly, as segments across its triangles.

From pairs of triangles that are known to cross, each curve is followed over the edges that it runs
through to its end, so that a curve is whole however shallow it becomes in between.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from optimizer.mesh import Ints, Mesh
from optimizer.rough.repair.budget import BudgetSpentError
from optimizer.rough.repair.exact import (
    PlaneOf,
    Point,
    ProjectedPoints,
    UnclearError,
    common_divisor,
    flat_axes,
    meet,
    pierces,
    plane_of,
    whole,
)

Node = tuple[str, int, int, int]  # a corner, an edge through a face, or the meeting of three faces
Segment = tuple[Node, Node, int]  # from, to, and the face that crosses there

# Folds of scans, up to 5,000 pairs, cross in about as many places: these are some seconds' work.
_MOST_PAIRS, _MOST_PLACES = 20_000, 8_000


@dataclass
class Curves:
    """Curves across the triangles of a mesh. ``segments`` are listed by face, cut where they cross;
    ``places`` says where each node lies."""

    mesh: Mesh
    across: Ints  # (m, 3) the face beyond each side
    divisor: int
    places: dict[Node, Point] = field(default_factory=dict)
    segments: dict[int, list[Segment]] = field(default_factory=dict)
    _planes: dict[int, PlaneOf] = field(default_factory=dict)
    _whole: dict[int, Point] = field(default_factory=dict)

    def corner(self, vertex: int) -> Point:
        """The exact place of a vertex."""
        if vertex not in self._whole:
            self._whole[vertex] = whole(self.mesh.vertices[vertex], self.divisor)
        return self._whole[vertex]

    def corners(self, face: int) -> tuple[Point, Point, Point]:
        """The exact places of a face's three corners."""
        a, b, c = (self.corner(int(v)) for v in self.mesh.faces[face])
        return a, b, c

    def plane(self, face: int) -> PlaneOf:
        """The exact plane of a face. Raises UnclearError where its corners lie in line."""
        if face not in self._planes:
            self._planes[face] = plane_of(*self.corners(face))
            if self._planes[face][:3] == (0, 0, 0):
                raise UnclearError
        return self._planes[face]

    def at(self, node: Node) -> Point:
        """The exact place of a node."""
        return self.corner(node[1]) if node[0] == "corner" else self.places[node]

    def flat(self, face: int, nodes: list[Node]) -> ProjectedPoints:
        """Nodes on a face as seen square to it."""
        points = [self.at(node) for node in nodes]
        return ProjectedPoints.of(points, flat_axes(self.plane(face)), self.divisor)


def trace(mesh: Mesh, across: Ints, seeds: Ints) -> Curves:
    """The curves that the crossing pairs of faces ``seeds`` (k, 2) lie on.

    Raises UnclearError where parts of the surface only touch, BudgetSpentError where there are
    too many.
    """
    curves = Curves(mesh, across, common_divisor(mesh.vertices))
    waiting = [(int(f), int(g)) for f, g in seeds]
    done: set[tuple[int, int]] = set()
    crossed: set[int] = set()
    while waiting:
        while waiting:
            f, g = sorted(waiting.pop())
            if (f, g) in done:
                continue
            done.add((f, g))
            _refuse_many(len(done), len(curves.places))
            ends = _meeting(curves, f, g)
            if ends is None:
                continue
            for face, other in ((f, g), (g, f)):
                curves.segments.setdefault(face, []).append((*ends, other))
                crossed.add(face)
            waiting += [pair for node in ends for pair in _beyond(curves, node)]
        for face in sorted(crossed):
            waiting += _triple_points(curves, face)
            _refuse_many(len(done), len(curves.places))
        crossed.clear()
    for face in curves.segments:
        curves.segments[face] = _cut_at_triple_points(curves, face)
    return curves


def _refuse_many(pairs: int, places: int) -> None:
    """Raises BudgetSpentError where a surface is no solid with folds in it."""
    if pairs > _MOST_PAIRS or places > _MOST_PLACES:
        raise BudgetSpentError(
            "resolving where the surface passes through itself",
            f"it does so in over {_MOST_PLACES:,} places",
            "mend self-intersections in the scan software, or rescan the piece there",
        )


def _meeting(curves: Curves, f: int, g: int) -> tuple[Node, Node] | None:
    """The ends of the segment that two faces share; None where they share none."""
    corners = [{int(v) for v in curves.mesh.faces[face]} for face in (f, g)]
    shared = corners[0] & corners[1]
    if len(shared) > 1:
        return None  # neighbours meet in their edge alone
    ends: list[Node] = [("corner", vertex, 0, 0) for vertex in shared]
    for face, other in ((f, g), (g, f)):
        own = [int(v) for v in curves.mesh.faces[face]]
        for k in range(3):
            a, b = sorted((own[k], own[(k + 1) % 3]))
            if {a, b} & shared:
                continue
            place = pierces(
                curves.corner(a), curves.corner(b), curves.corners(other), curves.plane(other)
            )
            if place is not None:
                node = ("edge", a, b, other)
                curves.places[node] = place
                ends.append(node)
    if len(ends) <= len(shared):
        return None
    if len(ends) != 2:
        raise UnclearError
    return ends[0], ends[1]


def _beyond(curves: Curves, node: Node) -> list[tuple[int, int]]:
    """The pairs of faces that cross at a node on an edge: those on both sides of the edge."""
    kind, a, b, through = node
    if kind != "edge":
        return []
    return [(face, through) for face in _faces_at(curves, a, b, through)]


def _faces_at(curves: Curves, a: int, b: int, through: int) -> list[int]:
    """The two faces at edge ab: one of them has a segment that ends there."""
    for face, *_ in ((s[2],) for s in curves.segments[through]):
        own = [int(v) for v in curves.mesh.faces[face]]
        if a in own and b in own:
            side = next(k for k in range(3) if {own[k], own[(k + 1) % 3]} == {a, b})
            return [face, int(curves.across[face, side])]
    raise UnclearError


def _crossings(curves: Curves, face: int) -> list[tuple[Segment, Segment]]:
    """Pairs of a face's segments that cross between their ends."""
    segments = curves.segments[face]
    flat = curves.flat(face, [node for segment in segments for node in segment[:2]])
    found = []
    for i, j in _boxes_meet(flat):
        one, other = segments[i], segments[j]
        if {one[0], one[1]} & {other[0], other[1]}:
            continue
        p, q, r, s = 2 * i, 2 * i + 1, 2 * j, 2 * j + 1
        turns = [flat.turn(p, q, r), flat.turn(p, q, s), flat.turn(r, s, p), flat.turn(r, s, q)]
        if turns[0] * turns[1] > 0 or turns[2] * turns[3] > 0:
            continue
        if 0 in turns:
            raise UnclearError
        found.append((one, other))
        _refuse_many(0, len(found))
    return found


def _boxes_meet(flat: ProjectedPoints) -> Iterator[tuple[int, int]]:
    """Pairs of the segments 0-1, 2-3 and so on whose boxes meet."""
    ends = np.array(flat.rounded).reshape(-1, 2, 2)
    low, high = ends.min(axis=1), ends.max(axis=1)
    for i in range(len(ends) - 1):
        meet = (low[i + 1 :] <= high[i]).all(axis=1) & (high[i + 1 :] >= low[i]).all(axis=1)
        yield from ((i, int(j)) for j in np.flatnonzero(meet) + i + 1)


def _triple_points(curves: Curves, face: int) -> list[tuple[int, int]]:
    """Notes where two segments of a face cross; gives the pairs of other faces that meet there."""
    pairs = []
    for one, other in _crossings(curves, face):
        a, b, c = sorted((face, one[2], other[2]))
        node = ("faces", a, b, c)
        if node not in curves.places:
            curves.places[node] = meet(curves.plane(a), curves.plane(b), curves.plane(c))
            pairs.append((one[2], other[2]))
    return pairs


def _cut_at_triple_points(curves: Curves, face: int) -> list[Segment]:
    stops: dict[Segment, list[Node]] = {segment: [] for segment in curves.segments[face]}
    for one, other in _crossings(curves, face):
        a, b, c = sorted((face, one[2], other[2]))
        stops[one].append(("faces", a, b, c))
        stops[other].append(("faces", a, b, c))
    cut = []
    for (start, end, other_face), nodes in stops.items():
        ordered = _along(curves, start, end, nodes)
        cut += [(p, q, other_face) for p, q in pairwise(ordered)]
    return cut


def _along(curves: Curves, start: Node, end: Node, nodes: list[Node]) -> list[Node]:
    """The nodes in order from start to end."""
    from fractions import Fraction

    p, q = (
        [Fraction(c, point[3]) for c in point[:3]] for point in (curves.at(start), curves.at(end))
    )
    k = max(range(3), key=lambda i: abs(q[i] - p[i]))

    def share(node: Node) -> Fraction:
        point = curves.at(node)
        return (Fraction(point[k], point[3]) - p[k]) / (q[k] - p[k])

    return [start, *sorted(nodes, key=share), end]
