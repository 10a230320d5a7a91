"""Compiled: which cells of a grid lie inside a closed surface."""

import numpy as np
from numpy.typing import NDArray

from optimizer.compiled import compiled
from optimizer.mesh import Floats, Ints


@compiled
def inside_grid(triangles: Floats, low: Floats, step: float, shape: Ints) -> NDArray[np.bool_]:
    """Which cells' centres lie inside: along each line parallel to z, crossings are counted."""
    crossings = np.zeros((shape[0], shape[1], shape[2] + 1), np.int64)
    for f in range(triangles.shape[0]):
        ax, ay, az = triangles[f, 0]
        bx, by, bz = triangles[f, 1]
        cx, cy, cz = triangles[f, 2]
        doubled = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if doubled == 0.0:
            continue
        first_x = max(0, int(np.ceil((min(ax, bx, cx) - low[0]) / step)))
        last_x = min(shape[0] - 1, int(np.floor((max(ax, bx, cx) - low[0]) / step)))
        first_y = max(0, int(np.ceil((min(ay, by, cy) - low[1]) / step)))
        last_y = min(shape[1] - 1, int(np.floor((max(ay, by, cy) - low[1]) / step)))
        for i in range(first_x, last_x + 1):
            x = low[0] + i * step
            for j in range(first_y, last_y + 1):
                y = low[1] + j * step
                u = ((bx - x) * (cy - y) - (by - y) * (cx - x)) / doubled
                v = ((cx - x) * (ay - y) - (cy - y) * (ax - x)) / doubled
                w = 1.0 - u - v
                if u >= 0.0 and v >= 0.0 and w >= 0.0:
                    k = int(np.ceil((u * az + v * bz + w * cz - low[2]) / step))
                    crossings[i, j, min(max(k, 0), shape[2])] += 1 if doubled < 0.0 else -1
    inside = np.zeros((shape[0], shape[1], shape[2]), np.bool_)
    for i in range(shape[0]):
        for j in range(shape[1]):
            winding = 0
            for k in range(shape[2]):
                winding += crossings[i, j, k]
                inside[i, j, k] = winding > 0
    return inside
