"""The part of a surface that lies about a point."""

import numpy as np

from optimizer.mesh import Floats

FINE = 0.25  # of the radius: edges of the triangles that the rim is followed with


def split_about(
    triangles: Floats, centre: Floats, others: Floats, radius: float
) -> tuple[Floats, Floats]:
    """A surface (n, 3, 3) parted in two: what lies within ``radius`` of ``centre`` (3,) and no
    nearer to any of the ``others`` (k, 3), and all else.

    Triangles across the rim are halved until they are small; each goes where its middle lies.
    """
    inside, outside, left = [np.empty((0, 3, 3))], [], triangles
    while True:
        far = _reach(left, centre) > radius
        outside.append(left[far])
        left = left[~far]
        if not len(left):
            return np.concatenate(inside), np.concatenate(outside)
        edges = np.linalg.norm(left - np.roll(left, -1, axis=1), axis=2)
        done = edges.max(axis=1) <= FINE * radius
        middles = left[done].mean(axis=1)
        away = np.linalg.norm(middles - centre, axis=1)
        mine = away <= radius
        for other in others:
            mine &= away <= np.linalg.norm(middles - other, axis=1)
        inside.append(left[done][mine])
        outside.append(left[done][~mine])
        left = _halved(left[~done], edges[~done])


def _halved(triangles: Floats, edges: Floats) -> Floats:
    """Each triangle in two, across its longest edge."""
    first = np.argmax(edges, axis=1)  # edge k runs from corner k to the next
    rows = np.arange(len(triangles))
    a, b, c = (triangles[rows, (first + k) % 3] for k in range(3))
    middle = (a + b) / 2.0
    return np.concatenate([np.stack([a, middle, c], axis=1), np.stack([middle, b, c], axis=1)])


def _reach(triangles: Floats, point: Floats) -> Floats:
    """A lower bound of each triangle's distance from a point, exact enough to sift by: from the
    middle's distance, less the farthest corner's from the middle. (n, 3, 3) -> (n,)."""
    middles = triangles.mean(axis=1)
    size = np.linalg.norm(triangles - middles[:, None], axis=2).max(axis=1)
    return np.asarray(np.linalg.norm(middles - point, axis=1) - size)
