"""Compiled: how often a closed surface winds round a point, by a ray through its tree of boxes."""

import numpy as np

from optimizer.boxes.kernels.build import STACK
from optimizer.compiled import compiled

# A ray keeps x + LEAN_X·z and y + LEAN_Y·z: upright ones would run along saw cuts and faces.
LEAN_X, LEAN_Y = 0.2360679774997897, 0.4142135623730951


@compiled
def _lies_over(triangle, x, y, point):
    """+1 or −1 where a triangle lies over a point along the leaning ray, by the way that it
    faces; else 0. ``x``, ``y``: the point's place as the ray sees it.

    Seen along the ray, an edge counts where it passes the point on the +y side: the two triangles
    on it come to the same answer, since its ends are taken in the same order.
    """
    way = 0
    for k in range(3):
        a, b = triangle[k], triangle[(k + 1) % 3]
        ax, bx = a[0] + LEAN_X * a[2], b[0] + LEAN_X * b[2]
        if (ax <= x) == (bx <= x):
            continue
        ay, by = a[1] + LEAN_Y * a[2], b[1] + LEAN_Y * b[2]
        sign = -1
        if bx < ax:
            ax, ay, bx, by = bx, by, ax, ay
            sign = 1
        if (bx - ax) * (y - ay) < (by - ay) * (x - ax):
            way += sign
    if way == 0:
        return 0
    volume = 0.0
    for k in range(3):
        i, j = (k + 1) % 3, (k + 2) % 3
        across = (triangle[1, i] - triangle[0, i]) * (triangle[2, j] - triangle[0, j])
        across -= (triangle[1, j] - triangle[0, j]) * (triangle[2, i] - triangle[0, i])
        volume += across * (triangle[0, k] - point[k])
    return way if volume * way > 0.0 else 0


@compiled
def windings(triangles, boxes, point):
    """How often a closed surface winds round a point: 1 inside, 0 outside. Triangles that a ray
    from the point meets count by the way that they face."""
    x, y = point[0] + LEAN_X * point[2], point[1] + LEAN_Y * point[2]
    n = triangles.shape[0]
    leaves = (boxes.shape[0] + 1) // 2
    nodes = np.empty(STACK, np.int64)
    nodes[0] = 0
    size, total = 1, 0
    while size > 0:
        size -= 1
        node = nodes[size]
        low, high = boxes[node, 0:3], boxes[node, 3:6]
        beside = high[2] < point[2]
        beside = beside or x < low[0] + LEAN_X * low[2] or high[0] + LEAN_X * high[2] < x
        beside = beside or y < low[1] + LEAN_Y * low[2] or high[1] + LEAN_Y * high[2] < y
        if beside:
            continue
        if node < leaves - 1:
            nodes[size] = 2 * node + 1
            nodes[size + 1] = 2 * node + 2
            size += 2
            continue
        j = node - (leaves - 1)
        for f in range(j * n // leaves, (j + 1) * n // leaves):
            total += _lies_over(triangles[f], x, y, point)
    return total
