"""A tree of boxes over triangles in Morton order (Lauterbach et al. 2009, Fast BVH construction on
GPUs)."""

from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats, Ints

LEAF = 4  # triangles a leaf


@dataclass(frozen=True)
class BoxTree:
    """A full binary tree: node i has children 2i+1 and 2i+2. Its leaves, the last nodes, hold
    ``LEAF`` triangles each of ``corners`` (m, 3, 3), which are those of the mesh in ``order`` (m,).

    ``low`` and ``high`` (nodes, 3) are each node's box, ``last`` (nodes,) the last leaf under it.
    """

    corners: Floats
    order: Ints
    low: Floats
    high: Floats
    last: Ints

    @property
    def leaves(self) -> int:
        """How many leaves hold triangles; the boxes of the others are empty."""
        return -(-len(self.corners) // LEAF)


def box_tree(triangles: Floats, margin: float = 0.0) -> BoxTree:
    """The tree over triangles (m, 3, 3), their boxes larger by ``margin`` on every side."""
    order = np.argsort(_morton(triangles.mean(axis=1)), kind="stable")
    corners = np.ascontiguousarray(triangles[order])
    leaves = -(-len(corners) // LEAF)
    width = 1 << max(0, (leaves - 1).bit_length())
    low = np.full((2 * width - 1, 3), np.inf)
    high = np.full((2 * width - 1, 3), -np.inf)
    last = np.zeros(2 * width - 1, np.int64)
    starts = np.arange(0, len(corners), LEAF)
    low[width - 1 : width - 1 + leaves] = np.minimum.reduceat(corners.min(axis=1), starts) - margin
    high[width - 1 : width - 1 + leaves] = np.maximum.reduceat(corners.max(axis=1), starts) + margin
    last[width - 1 :] = np.arange(width)
    while width > 1:
        below, width = slice(width - 1, 2 * width - 1), width // 2
        here = slice(width - 1, 2 * width - 1)
        low[here] = np.minimum(low[below][::2], low[below][1::2])
        high[here] = np.maximum(high[below][::2], high[below][1::2])
        last[here] = last[below][1::2]
    return BoxTree(corners, order, low, high, last)


def _morton(points: Floats) -> Ints:
    """21 bits of each coordinate, interleaved: near in number is near in space."""
    low = points.min(axis=0)
    side = max(float(np.ptp(points, axis=0).max()), 1e-300)
    grid = ((points - low) / side * (2**21 - 1)).astype(np.uint64)
    code = np.zeros(len(points), np.uint64)
    for axis in range(3):
        code |= _spread(grid[:, axis]) << np.uint64(axis)
    return code.astype(np.int64)


def _spread(x: np.ndarray) -> np.ndarray:
    """Two empty bits between each two of the lowest 21."""
    steps = [
        (32, 0x1F00000000FFFF), (16, 0x1F0000FF0000FF), (8, 0x100F00F00F00F00F),
        (4, 0x10C30C30C30C30C3), (2, 0x1249249249249249),
    ]  # fmt: skip
    for shift, mask in steps:
        x = (x | (x << np.uint64(shift))) & np.uint64(mask)
    return x
