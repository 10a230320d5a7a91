"""Triangles sorted along a space-filling curve, under a balanced tree of boxes.

After Lauterbach and others, Fast BVH construction on GPUs, 2009. ``kernels.build`` says which
triangles and boxes belong to which node.
"""

from dataclasses import dataclass

import numpy as np

from optimizer.boxes.kernels.build import morton_codes, tree_boxes
from optimizer.mesh import Floats, Ints


@dataclass(frozen=True)
class BoxTree:
    """``triangles`` (n, 3, 3) in the order of the tree, ``order`` (n,) their numbers as they were
    given, ``boxes`` (2L−1, 11) of the nodes."""

    triangles: Floats
    order: Ints
    boxes: Floats

    @property
    def leaves(self) -> int:
        """How many leaves the tree has, L."""
        return (len(self.boxes) + 1) // 2


def box_tree(vertices: Floats, faces: Ints) -> BoxTree:
    """The tree over a mesh's triangles, one at least: vertices (v, 3), faces (n, 3). Triangles at
    the same place of the curve stay in the order given."""
    low = vertices.min(axis=0)
    span = float(np.ptp(vertices, axis=0).max()) or 1.0
    # The code above the index in one number: a plain sort is several times as quick as an argsort.
    bits = len(faces).bit_length()
    keys = np.sort(morton_codes(vertices, faces, low, span) << bits | np.arange(len(faces)))
    order = keys & ((1 << bits) - 1)
    triangles = vertices[faces[order]]
    return BoxTree(triangles, order, tree_boxes(triangles))


def box_tree_over(triangles: Floats) -> BoxTree:
    """The tree over triangles (n, 3, 3) that share no vertices."""
    return box_tree(triangles.reshape(-1, 3), np.arange(3 * len(triangles)).reshape(-1, 3))
