"""Edges at which a surface touches itself: parted, so that two triangles meet in every edge.

Four or more triangles at an edge are no fault of the solid, but many programs take such a mesh for
an open one. So the edge is divided at its middle, once for each two triangles with material between
them, and each middle point is moved into that material.
"""

import numpy as np

from optimizer.mesh import Floats, Ints, Mesh, cross, lengths
from optimizer.rough.model import Repair
from optimizer.rough.repair.crossing import resolution
from optimizer.rough.repair.edges import Edges, edges_of
from optimizer.rough.repair.mend import Mended, counted, drop_needless_faces, merge_corners
from optimizer.rough.repair.words import mm

_OF_HEIGHT = 0.05  # of the lowest of the edge's triangles: how far a middle may move at most


def one_surface(mesh: Mesh) -> Mesh:
    """The robust kernel's mesh with one vertex for all corners at the same place: the kernel makes
    two where a surface touches itself in a point. Where a single vertex would join four triangles
    at an edge, the two stay."""
    merged = merge_corners(mesh).mesh
    if len(merged.vertices) == len(mesh.vertices):
        return mesh
    merged = drop_needless_faces(merged).mesh
    return merged if (edges_of(merged).count == 2).all() else mesh


def part_touching(mesh: Mesh) -> Mended:
    """A closed surface, wound outwards, with the edges parted at which it touches itself."""
    edges = edges_of(mesh)
    count = int((edges.count > 2).sum())
    if not count:
        return Mended(mesh)
    step, places = resolution(mesh.vertices), []
    while (edges.count > 2).any():
        mesh, middles = _part_some(mesh, edges, step)
        places.append(middles)
        edges = edges_of(mesh)
    sentence = (
        f"{counted(count, 'edge')} at which the surface touches itself parted, by {mm(step)} at "
        "most; the piece becomes smaller, by far less than the scan may be off"
    )
    return Mended(mesh, (Repair(sentence, np.vstack(places), moved_mm=step),))


def _part_some(mesh: Mesh, edges: Edges, step: float) -> tuple[Mesh, Floats]:
    """Part as many edges as have no triangle in common; return the mesh and their middles."""
    taken = np.zeros(len(mesh.faces), bool)
    gone: list[Ints] = []
    parts: list[list[int]] = []
    middles: list[Floats] = []
    for edge in np.flatnonzero(edges.count > 2):
        sides = edges.sides[edges.starts[edge] :][: edges.count[edge]]
        if taken[sides // 3].any():
            continue
        taken[sides // 3] = True
        gone.append(sides // 3)
        for pair, inwards in _wedges(mesh, edges, sides):
            number = len(mesh.vertices) + len(middles)
            middle = mesh.vertices[edges.ends[pair[0]]].mean(axis=0)
            middles.append(middle + min(step, _OF_HEIGHT * _lowest(mesh, pair)) * inwards)
            parts += [half for side in pair for half in _halves(mesh, int(side), number)]
    faces = np.vstack([np.delete(mesh.faces, np.concatenate(gone), axis=0), parts])
    points = np.array(middles)
    return Mesh(np.vstack([mesh.vertices, points]), faces.astype(np.int64)), points


def _wedges(mesh: Mesh, edges: Edges, sides: Ints) -> list[tuple[Ints, Floats]]:
    """The sides two by two with material between them, and the way into it from the edge.

    Seen along the edge from its lower vertex, material lies counter-clockwise of a triangle that
    runs along it backwards, and clockwise of one that runs forward.
    """
    forward = edges.forward(sides)
    low, high = np.sort(edges.ends[sides[0]])
    along = mesh.vertices[high] - mesh.vertices[low]
    apex = mesh.vertices[mesh.faces[sides // 3, (sides % 3 + 2) % 3]] - mesh.vertices[low]
    u = cross(along, np.eye(3)[int(np.argmin(np.abs(along)))])
    u /= np.linalg.norm(u)
    v = cross(along, u) / np.linalg.norm(along)
    angle = np.arctan2(apex @ v, apex @ u)
    order = [int(i) for i in np.lexsort([~forward, angle.round(9)])]
    ways = []
    for start, end in _matched(order, forward):
        middle = angle[start] + (angle[end] - angle[start]) % (2.0 * np.pi) / 2.0
        ways.append((sides[[start, end]], np.cos(middle) * u + np.sin(middle) * v))
    return ways


def _matched(order: list[int], forward: np.ndarray) -> list[tuple[int, int]]:
    """Each backward side with the forward one that closes it, as brackets, going round."""
    opened: list[int] = []
    found: dict[int, int] = {}
    for i in (*order, *order):  # twice: what the first opens may be closed behind the last
        if forward[i] and opened and i not in found.values():
            found[opened.pop()] = i
        elif not forward[i] and i not in opened and i not in found:
            opened.append(i)
    return list(found.items())


def _lowest(mesh: Mesh, sides: Ints) -> float:
    """The least height of the triangles over these sides of theirs."""
    a, b, c = (mesh.vertices[mesh.faces[sides // 3, (sides % 3 + k) % 3]] for k in range(3))
    return float((lengths(cross(b - a, c - a)) / lengths(b - a)).min())


def _halves(mesh: Mesh, side: int, middle: int) -> list[list[int]]:
    """A triangle parted from a vertex on one side to the corner across."""
    a, b, c = (int(mesh.faces[side // 3, (side % 3 + k) % 3]) for k in range(3))
    return [[a, middle, c], [middle, b, c]]
