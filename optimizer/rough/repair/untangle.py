"""A surface that passes through itself, resolved: the solid is where it winds round at least once.

The surface is cut along the curves where it meets itself. On each part the number of windings just
outside is one whole number; it changes by one across a curve, the same way for both sheets. Parts
with no winding outside and one inside bound the solid; the others lie within it or enclose a fold
that is turned inside out, and go. Nothing is moved (Zhou, Grinspun, Zorin and Jacobson 2016, Mesh
arrangements for solid geometry, use the same rule).
"""

from collections import deque
from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats, Ints, Mesh
from optimizer.rough.repair.curves import Curves, Node, trace
from optimizer.rough.repair.edges import components, edges_of
from optimizer.rough.repair.exact import UnclearError, as_floats, height
from optimizer.rough.repair.subdivide import subdivide
from optimizer.rough.repair.windings import winding_beside

_FEWEST_LOOKS, _MOST_WORK = 50, 20_000_000  # solid angles of the surface; triangles in all of them


@dataclass(frozen=True)
class Untangled:
    """The solid's surface, and the triangles of the old one (k, 3, 3) that bound nothing."""

    mesh: Mesh
    dropped: Floats


@dataclass(frozen=True)
class _CutSurface:
    """The surface cut along its curves; ``parent`` (m,) the face that each part comes from, and
    ``curve`` the two old faces that meet in each edge of a curve."""

    mesh: Mesh
    parent: Ints
    nodes: list[Node]
    curve: dict[tuple[int, int], tuple[int, int]]


def untangle(mesh: Mesh, across: Ints, pairs: Ints) -> Untangled:
    """Resolve a closed surface along the curves that crossing ``pairs`` (k, 2) of faces lie on;
    ``across`` (m, 3) is the face beyond each side.

    Raises UnclearError where parts only touch, so that inside and outside can't be told.
    """
    curves = trace(mesh, across, pairs)
    cut = _cut(curves)
    outside = _windings_outside(cut, curves)
    kept = outside == 0
    return Untangled(Mesh(cut.mesh.vertices, cut.mesh.faces[kept]), cut.mesh.triangles[~kept])


def _cut(curves: Curves) -> _CutSurface:
    mesh = curves.mesh
    nodes = sorted(curves.places)
    number = {node: len(mesh.vertices) + i for i, node in enumerate(nodes)}

    def numbered(node: Node) -> int:
        return node[1] if node[0] == "corner" else number[node]

    parts, parents = [], []
    curve: dict[tuple[int, int], tuple[int, int]] = {}
    for face in sorted(curves.segments):
        corners: list[Node] = [("corner", int(v), 0, 0) for v in mesh.faces[face]]
        segments = curves.segments[face]
        inner = sorted({n for s in segments for n in s[:2]} - set(corners))
        local = {node: i for i, node in enumerate([*corners, *inner])}
        lines = [(local[p], local[q]) for p, q, _ in segments]
        order = [numbered(node) for node in local]
        for part in subdivide(curves.flat(face, list(local)), lines):
            parts.append([order[i] for i in part])
            parents.append(face)
        for p, q, other in segments:
            a, b = sorted((numbered(p), numbered(q)))
            curve[a, b] = (min(face, other), max(face, other))
    whole = np.setdiff1d(np.arange(len(mesh.faces)), parents)
    places = as_floats([curves.places[node] for node in nodes], curves.divisor)
    faces = np.vstack([mesh.faces[whole], np.array(parts, np.int64).reshape(-1, 3)])
    parent = np.concatenate([whole, np.array(parents, np.int64)])
    return _CutSurface(Mesh(np.vstack([mesh.vertices, places]), faces), parent, nodes, curve)


def _windings_outside(cut: _CutSurface, curves: Curves) -> Ints:
    """How often the surface winds round the places just outside each face."""
    edges = edges_of(cut.mesh)
    on_curve = np.isin(edges.key, _keys(cut))
    joined = edges.joined(~on_curve)
    if 2 * len(joined) + 4 * int(on_curve.sum()) != len(edges.sides):
        raise UnclearError
    patch = components(joined // 3, len(cut.mesh.faces))
    steps: dict[int, list[tuple[int, int]]] = {int(p): [] for p in np.unique(patch)}
    for e in np.flatnonzero(on_curve):
        for a, b, rise in _rises(cut, curves, edges.faces_at(int(e))):
            steps[int(patch[a])].append((int(patch[b]), rise))
            steps[int(patch[b])].append((int(patch[a]), -rise))
    return _settled(cut.mesh, patch, steps)


def _keys(cut: _CutSurface) -> Ints:
    ends = np.array(sorted(cut.curve), np.int64).reshape(-1, 2)
    return np.asarray(ends[:, 0] * len(cut.mesh.vertices) + ends[:, 1])


def _rises(cut: _CutSurface, curves: Curves, faces: Ints) -> list[tuple[int, int, int]]:
    """(face, face, by how much the second has more windings outside) at an edge of a curve."""
    f, g = sorted({int(cut.parent[i]) for i in faces}) if len(faces) == 4 else (-1, -1)
    shared = set.intersection(*({int(v) for v in cut.mesh.faces[i]} for i in faces))
    sides: dict[tuple[int, bool], int] = {}
    for i in (int(i) for i in faces):
        (apex,) = {int(v) for v in cut.mesh.faces[i]} - shared
        n = apex - len(curves.mesh.vertices)
        place = curves.corner(apex) if n < 0 else curves.places[cut.nodes[n]]
        own = int(cut.parent[i])
        side = height(curves.plane(g if own == f else f), place)
        if side == 0 or own not in (f, g):
            raise UnclearError
        sides[own, side > 0] = i
    if len(sides) != 4:
        raise UnclearError
    above, below = sides[f, True], sides[f, False]
    return [
        (above, below, 1),
        (sides[g, True], sides[g, False], 1),
        (above, sides[g, True], 0),
    ]


def _settled(mesh: Mesh, patch: Ints, steps: dict[int, list[tuple[int, int]]]) -> Ints:
    """The windings of each face: of one face of each connected surface by its solid angle, of the
    others by the steps from patch to patch."""
    corners = mesh.triangles
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    largest = np.argsort(-np.linalg.norm(across, axis=1), kind="stable")
    known: dict[int, int] = {}
    looks = max(_FEWEST_LOOKS, _MOST_WORK // len(mesh.faces))
    for face in largest:
        if len(known) == len(steps):
            break
        if int(patch[face]) in known:
            continue
        looks -= 1
        if looks < 0:
            raise UnclearError
        if (first := winding_beside(mesh, int(face))) is None:
            continue
        known[int(patch[face])] = first
        waiting = deque([int(patch[face])])
        while waiting:
            here = waiting.popleft()
            for other, rise in steps[here]:
                if other not in known:
                    known[other] = known[here] + rise
                    waiting.append(other)
                elif known[other] != known[here] + rise:
                    raise UnclearError
    if len(known) < len(steps):
        raise UnclearError
    return np.array([known[i] for i in range(len(steps))])[patch]
