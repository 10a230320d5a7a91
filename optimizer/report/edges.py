"""Edges of meshes and polylines, as the scene draws them."""

import numpy as np

from optimizer.mesh import Floats, Ints
from optimizer.plan_model import Stone


def facet_edges(stone: Stone) -> Floats:
    """The edges between different facets, (k, 2, 3), scan frame."""
    body, mesh = stone.placement.body, stone.placement.mesh()
    corners = np.sort(_corner_pairs(mesh.faces), axis=1)
    order = np.lexsort((*corners.T,))
    pairs, owners = corners[order], np.repeat(body.facet_of_face, 3)[order]
    shared = owners[0::2] != owners[1::2]  # a closed mesh: each edge comes exactly twice
    edges: Floats = mesh.vertices[pairs[0::2][shared]]
    return edges


def rim_edges(faces: Ints) -> Ints:
    """The edges that bound an open mesh, as corner pairs (k, 2)."""
    pairs = _corner_pairs(faces)
    _, first, count = np.unique(
        np.sort(pairs, axis=1), axis=0, return_index=True, return_counts=True
    )
    rim: Ints = pairs[first[count == 1]]
    return rim


def loop_edges(points: Floats) -> Floats:
    """A closed polyline (k, 3) as its segments (k, 2, 3)."""
    return np.stack([points, np.roll(points, -1, axis=0)], axis=1)


def _corner_pairs(faces: Ints) -> Ints:
    """The edges of triangles as corner pairs (3m, 2), three for each triangle in turn."""
    return np.stack([faces, np.roll(faces, -1, axis=1)], axis=2).reshape(-1, 2)
