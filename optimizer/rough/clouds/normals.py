"""Normals of a cloud, turned so that neighbours point the same way.

Each normal is turned to agree with its neighbour along a minimum spanning tree of the graph of
nearest neighbours, in which an edge costs less the more nearly parallel its two normals are (Hoppe
et al. 1992, Surface reconstruction from unorganized points).
"""

import numpy as np

from optimizer.mesh import Floats, Ints

_LEAST_COST = 1e-9  # a sparse graph takes an edge that costs 0 for a missing one


def agreeing(normals: Floats, nearest: Ints) -> Floats | None:
    """Unit ``normals`` (n, 3) turned to agree; all of them may still point into the piece.

    ``nearest`` (n, k) are each point's nearest others. None where these do not link all points.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import breadth_first_order, minimum_spanning_tree

    count, k = nearest.shape
    cosine = np.stack([_dots(normals, normals[column]) for column in nearest.T], axis=1)
    cost = 1.0 - np.minimum(np.abs(cosine), 1.0) + _LEAST_COST
    pairs = (np.repeat(np.arange(count), k), nearest.ravel())
    graph = coo_array((cost.ravel(), pairs), shape=(count, count)).tocsr()
    order, before = breadth_first_order(minimum_spanning_tree(graph), 0, directed=False)
    if len(order) < count:
        return None
    before[0] = 0
    sign = np.where(_dots(normals, normals[before]) < 0.0, -1.0, 1.0)
    # ``sign`` is the product of the signs on the way to ``before``, which doubles in every round.
    while before.any():
        sign, before = sign * sign[before], before[before]
    return np.asarray(normals * sign[:, None])


def _dots(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.einsum("ij,ij->i", a, b))
