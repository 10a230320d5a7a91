"""Compiled: a balanced tree of boxes over triangles.

Arrays are float64 and C-contiguous; ``tree`` sees to that.
"""

import numpy as np

from optimizer.compiled import compiled

LEAF = 4  # triangles in a leaf of the tree
STACK = 128  # deeper than any tree that fits in memory
EXACT = 64  # leaves: over no more of them a slab is taken from the triangles themselves
CELLS = 8192  # along an axis of the space-filling curve: 13 bits


@compiled
def tree_boxes(triangles):
    """A balanced tree over triangles (n, 3, 3) sorted along a curve: (2L−1, 11).

    Node i has children 2i+1 and 2i+2; with L leaves, leaf j is node L−1+j and holds triangles
    j·n//L to (j+1)·n//L. All of a node's triangles lie in its box (lowest, highest corner) and
    in its slab (mean normal, least and most height along it): the slab is thin where the surface
    is smooth, whichever way it faces.
    """
    n = triangles.shape[0]
    leaves = 1
    while leaves * LEAF < n:
        leaves *= 2
    boxes = np.empty((2 * leaves - 1, 11))
    for j in range(leaves):
        _bound_leaf(triangles, j * n // leaves, (j + 1) * n // leaves, boxes[leaves - 1 + j])
    for node in range(leaves - 2, -1, -1):
        first, second = boxes[2 * node + 1], boxes[2 * node + 2]
        for k in range(3):
            boxes[node, k] = min(first[k], second[k])
            boxes[node, 3 + k] = max(first[3 + k], second[3 + k])
            boxes[node, 6 + k] = first[6 + k] + second[6 + k]
    span, level_first = 1, leaves - 1
    for node in range(2 * leaves - 2, -1, -1):
        while node < level_first:
            span *= 2
            level_first = (level_first - 1) // 2
        _normalise(boxes[node])
        j = (node - level_first) * span
        if span <= EXACT:
            _bound_slab(triangles, j * n // leaves, (j + span) * n // leaves, boxes[node])
        else:
            _join_slabs(boxes[2 * node + 1], boxes[2 * node + 2], boxes[node])
    return boxes


@compiled
def _bound_leaf(triangles, start, end, box):
    """The box of some triangles, and their normals' sum (weighted by area)."""
    box[0:3] = np.inf
    box[3:6] = -np.inf
    box[6:9] = 0.0
    for f in range(start, end):
        t = triangles[f]
        for k in range(3):
            box[k] = min(box[k], t[0, k], t[1, k], t[2, k])
            box[3 + k] = max(box[3 + k], t[0, k], t[1, k], t[2, k])
            i, j = (k + 1) % 3, (k + 2) % 3
            box[6 + k] += (t[1, i] - t[0, i]) * (t[2, j] - t[0, j])
            box[6 + k] -= (t[1, j] - t[0, j]) * (t[2, i] - t[0, i])


@compiled
def _normalise(box):
    """The slab's normal to length one; where there is none, to no direction (a slab of all)."""
    length = np.sqrt(box[6] ** 2 + box[7] ** 2 + box[8] ** 2)
    for k in range(6, 9):
        box[k] = box[k] / length if length > 0.0 else 0.0


@compiled
def _bound_slab(triangles, start, end, box):
    """The least and the most height of some triangles along a node's normal."""
    x, y, z = box[6], box[7], box[8]
    least, most = np.inf, -np.inf
    for f in range(start, end):
        for corner in range(3):
            t = triangles[f, corner]
            height = x * t[0] + y * t[1] + z * t[2]
            least = min(least, height)
            most = max(most, height)
    box[9] = least
    box[10] = most


@compiled
def _join_slabs(first, second, box):
    """The least and the most height that two children allow along their parent's normal."""
    box[9] = np.inf
    box[10] = -np.inf
    for child in (first, second):
        along = child[6] * box[6] + child[7] * box[7] + child[8] * box[8]
        middle = along * 0.5 * (child[9] + child[10])
        half = abs(along) * 0.5 * (child[10] - child[9])
        for k in range(3):
            aside = box[6 + k] - along * child[6 + k]
            middle += aside * 0.5 * (child[k] + child[3 + k])
            half += abs(aside) * 0.5 * (child[3 + k] - child[k])
        box[9] = min(box[9], middle - half)
        box[10] = max(box[10], middle + half)


@compiled
def _spaced(cell):
    """The 13 bits of a number, two zeros after each."""
    cell = (cell | (cell << 16)) & 0xFF0000FF
    cell = (cell | (cell << 8)) & 0xF00F00F00F
    cell = (cell | (cell << 4)) & 0xC30C30C30C3
    return (cell | (cell << 2)) & 0x9249249249249


@compiled
def morton_codes(vertices, faces, low, span):
    """Places of the triangles' middles along a space-filling (Z-order) curve, 13 bits an axis.

    ``vertices`` (n, 3), ``faces`` (m, 3) -> (m,) below 2³⁹.
    """
    codes = np.empty(faces.shape[0], np.int64)
    scale = (CELLS - 1) / (3.0 * span)
    for f in range(faces.shape[0]):
        code = np.int64(0)
        for k in range(3):
            middle = vertices[faces[f, 0], k] + vertices[faces[f, 1], k] + vertices[faces[f, 2], k]
            cell = np.int64((middle - 3.0 * low[k]) * scale)
            code |= _spaced(min(max(cell, 0), CELLS - 1)) << k
        codes[f] = code
    return codes
