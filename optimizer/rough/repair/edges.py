"""The edges in which the faces of a mesh meet, and the connected parts that they join."""

from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Ints, Mesh


@dataclass(frozen=True)
class Edges:
    """The edges of a mesh with n vertices and m faces.

    Side s of face f is number 3f + s and runs from its corner s to the next. ``sides`` (3m,) lists
    them edge by edge; those of edge e begin at ``starts[e]`` and are ``count[e]``. ``key`` is
    low·n + high of the edge's two vertices, ascending; ``ends`` (3m, 2) each side's vertices.
    """

    sides: Ints
    starts: Ints
    count: Ints
    key: Ints
    ends: Ints

    def faces_at(self, edge: int) -> Ints:
        """The faces at an edge."""
        return np.asarray(self.sides[self.starts[edge] :][: self.count[edge]] // 3)

    def twins(self, which: np.ndarray | bool = True) -> Ints:
        """The two sides (k, 2) at each edge of two, of those marked."""
        first = self.starts[(self.count == 2) & which]
        return np.column_stack([self.sides[first], self.sides[first + 1]])

    def forward(self, sides: Ints) -> np.ndarray:
        """Whether each side runs from the lower to the higher vertex number."""
        return np.asarray(self.ends[sides, 0] < self.ends[sides, 1])

    def touching(self, which: np.ndarray | bool = True) -> Ints:
        """Pairs (k, 2) of opposite sides at the edges of four or more faces, as many each way:
        there a surface touches itself, or parts of it touch."""
        pairs: list[tuple[int, int]] = []
        for e in np.flatnonzero((self.count > 2) & (self.count % 2 == 0) & which):
            sides = self.sides[self.starts[e] :][: self.count[e]]
            ahead, back = sides[self.forward(sides)], sides[~self.forward(sides)]
            if len(ahead) == len(back):
                pairs += zip(ahead.tolist(), back.tolist(), strict=True)
        return np.array(pairs, np.int64).reshape(-1, 2)

    def joined(self, which: np.ndarray | bool = True) -> Ints:
        """Sides (k, 2) over which the surface goes on from one face to the next."""
        return np.vstack([self.twins(which), self.touching(which)])


def edges_of(mesh: Mesh) -> Edges:
    """The edges of a mesh, however many faces meet in each."""
    ends = mesh.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    key = np.minimum(ends[:, 0], ends[:, 1])
    key *= len(mesh.vertices)
    key += np.maximum(ends[:, 0], ends[:, 1])
    sides = np.argsort(key, kind="stable")
    key = key[sides]
    starts = np.flatnonzero(np.r_[True, key[1:] != key[:-1]])
    return Edges(sides, starts, np.diff(np.r_[starts, len(sides)]), key[starts], ends)


def closed(mesh: Mesh) -> bool:
    """Whether two triangles meet in each edge, one wound each way."""
    edges = edges_of(mesh)
    if not (edges.count == 2).all():
        return False
    first, second = edges.twins().T
    return bool((edges.forward(first) != edges.forward(second)).all())


def faces_across(edges: Edges) -> Ints:
    """The face (m, 3) beyond each side of each face of a closed surface."""
    beyond = np.full(len(edges.sides), -1, np.int64)
    a, b = edges.joined().T
    beyond[a], beyond[b] = b // 3, a // 3
    return beyond.reshape(-1, 3)


def components(pairs: Ints, count: int) -> Ints:
    """The number of the connected component that each of ``count`` items belongs to; ``pairs``
    (k, 2) are joined. Components are numbered in the order of their first members."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    ones = np.ones(len(pairs), np.int8)
    graph = coo_array((ones, (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    return np.asarray(connected_components(graph, directed=False)[1], np.int64)


def members_of(component: Ints) -> list[Ints]:
    """The members of each connected component, in order."""
    order = np.argsort(component, kind="stable")
    return np.split(order, np.cumsum(np.bincount(component))[:-1])
