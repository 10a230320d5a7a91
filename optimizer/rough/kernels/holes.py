"""Compiled: the smallest surface over a closed loop of points, by dynamic programming."""

import math

import numpy as np

from optimizer.compiled import compiled


@compiled
def least_areas(points, taken):
    """(the least area over the whole loop of points; for the part of the loop from i to k, the
    corner that makes a triangle with i and k)."""
    n = len(points)
    cost = np.full((n, n), np.inf)
    split = np.zeros((n, n), np.int64)
    for i in range(n - 1):
        cost[i, i + 1] = 0.0
    for gap in range(2, n):
        for i in range(n - gap):
            k = i + gap
            if taken[i, k] and gap < n - 1:
                continue
            p, q = points[i], points[k]
            vx, vy, vz = q[0] - p[0], q[1] - p[1], q[2] - p[2]
            for j in range(i + 1, k):
                r = points[j]
                ux, uy, uz = r[0] - p[0], r[1] - p[1], r[2] - p[2]
                x, y, z = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
                total = cost[i, j] + cost[j, k] + math.sqrt(x * x + y * y + z * z) / 2.0
                if total < cost[i, k]:
                    cost[i, k], split[i, k] = total, j
    return cost[0, n - 1], split
