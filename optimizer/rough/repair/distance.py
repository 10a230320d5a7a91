"""How far points and triangles lie from a surface."""

import numpy as np

from optimizer.boxes.tree import BoxTree, box_tree_over
from optimizer.mesh import Floats, lengths
from optimizer.rough.kernels.distance import nearest

_BATCH = 2048  # triangles bounded at a time, before those without the greatest distance drop out
_MOST_LOOKS = 100_000  # triangles, and parts of them, that are bounded; takes some seconds


def distances(points: Floats, triangles: Floats) -> Floats:
    """Distance (n,) of each point (n, 3) to the nearest of triangles (m, 3, 3)."""
    if not len(points) or not len(triangles):
        return np.full(len(points), np.inf)
    return _distances(points, box_tree_over(triangles))


def farthest(
    triangles: Floats, others: Floats, tolerance: float, most_looks: int = _MOST_LOOKS
) -> float:
    """A bound within ``tolerance`` of the greatest distance of any place on ``triangles`` (m, 3, 3)
    to the nearest of ``others``; a looser one where that takes more than ``most_looks``.

    By branch and bound (after Tang, Lee and Kim 2009, Interactive Hausdorff distance computation
    for general polygonal models): the distance to one triangle is convex, so that over another it
    is greatest in a corner; no place is farther from the surface than from the triangle for which
    this is least. Triangles that may hold a greater distance than was found are halved.
    """
    if not len(triangles) or not len(others):
        return np.inf if len(triangles) else 0.0
    tree = box_tree_over(others)
    found = float(_distances(np.unique(triangles.reshape(-1, 3), axis=0), tree).max())
    waiting, bound, looks = np.ascontiguousarray(triangles), _bounds(triangles, tree), 0
    while len(waiting):
        wide = bound > found + tolerance
        waiting, bound = waiting[wide], bound[wide]
        if looks > most_looks:
            return max(float(bound.max(initial=0.0)), found + tolerance)
        first = np.argsort(-bound, kind="stable")[:_BATCH]
        halves, middles = _halved(waiting[first])
        looks += len(halves)
        found = max(found, float(_distances(middles, tree).max(initial=0.0)))
        waiting = np.concatenate([np.delete(waiting, first, axis=0), halves])
        bound = np.concatenate([np.delete(bound, first), _bounds(halves, tree)])
    return found + tolerance


def _halved(triangles: Floats) -> tuple[Floats, Floats]:
    """(each triangle in two, parted at the middle of its longest side; these middles)."""
    sides = lengths(np.roll(triangles, -1, axis=1) - triangles)
    turn = (np.argmax(sides, axis=1)[:, None] + np.arange(3)) % 3
    a, b, c = np.take_along_axis(triangles, turn[:, :, None], axis=1).transpose(1, 0, 2)
    middle = (a + b) / 2.0
    return np.concatenate([np.stack([a, middle, c], 1), np.stack([middle, b, c], 1)]), middle


def _distances(points: Floats, tree: BoxTree) -> Floats:
    alone = np.ascontiguousarray(points)[:, None]
    return np.asarray(np.sqrt(nearest(alone, tree.triangles, tree.boxes)))


def _bounds(triangles: Floats, tree: BoxTree) -> Floats:
    """An upper bound (n,) on how far any place on each triangle lies from the surface."""
    return np.asarray(np.sqrt(nearest(triangles, tree.triangles, tree.boxes)))
