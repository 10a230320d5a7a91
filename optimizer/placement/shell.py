"""A lighter surface with no gaps, where points would let a thin stone slip between them."""

import numpy as np

from optimizer.mesh import Floats, Ints, Mesh, cross


def shell(mesh: Mesh, spacing: float) -> Floats:
    """The triangles (n, 3, 3) of a closed surface whose corners in each cell of a grid, cells
    ``spacing`` wide, become one: the innermost, since that is where a stone would be held.

    Vertex clustering (Rossignac and Borrel, Multi-resolution 3D approximations for rendering
    complex scenes, 1993). Only corners that edges join within their cell become one, so that a wall
    thinner than a cell keeps its two sides. Every triangle is moved with its corners, so there is
    no gap where the surface has none. The surface itself where it is no finer.
    """
    which = _clusters(mesh, spacing)
    faces = which[mesh.faces]
    a, b, c = faces.T
    faces = faces[(a != b) & (b != c) & (c != a)]
    if 2 * len(faces) > len(mesh.faces):
        return mesh.triangles
    return np.asarray(_innermost(mesh, which)[faces])


def _clusters(mesh: Mesh, spacing: float) -> Ints:
    """A number for each corner (v,): the same for those of one cell that edges join within it."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    cells = np.floor((mesh.vertices - mesh.vertices.min(axis=0)) / spacing).astype(np.int64)
    cell = np.ravel_multi_index(tuple(cells.T), tuple(cells.max(axis=0) + 1))
    a, b = mesh.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2).T
    within = cell[a] == cell[b]
    joined = coo_array((np.ones(within.sum()), (a[within], b[within])), shape=(len(cell),) * 2)
    return np.asarray(connected_components(joined, directed=False)[1], np.int64)


def _innermost(mesh: Mesh, which: Ints) -> Floats:
    """Of each cluster the corner that lies lowest along its mean normal, (c, 3)."""
    a, b, c = np.moveaxis(mesh.triangles, 1, 0)
    across = np.repeat(cross(b - a, c - a), 3, axis=0)
    outward = np.stack([np.bincount(which[mesh.faces.ravel()], part) for part in across.T], axis=1)
    heights = np.einsum("ij,ij->i", outward[which], mesh.vertices)
    order = np.lexsort((heights, which))
    first = np.concatenate([[True], np.diff(which[order]) > 0])
    return np.asarray(mesh.vertices[order[first]])
