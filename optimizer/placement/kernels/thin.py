"""The compiled tournament of poses of a thin body, which slips between points of the surface."""

import numpy as np

from optimizer.compiled import compiled
from optimizer.placement.kernels.gauges import least_gauge, workspace, world_facets
from optimizer.placement.kernels.points import point_gauge, worth_a_climb


@compiled
def tournament_of_thin(site, triangles, boxes, rotations, facets, ceiling, best):
    """As ``points.tournament``, and whole triangles (n, 3, 3) in their tree of ``boxes`` judge the
    poses that the points leave."""
    count, m = rotations.shape[0], facets.normals.shape[0]
    gauges = np.full(count, -np.inf)
    which = np.zeros(count, np.int64)
    room, held, every = workspace(m), np.empty((2, 3)), np.arange(m)
    corners, square = np.empty((0, 3)), np.zeros(2)
    for r in range(count):
        for c in range(site.centres.shape[0]):
            g, h = world_facets(
                facets.normals, facets.alpha, facets.beta, rotations[r], site.centres[c]
            )
            floor = max(worth_a_climb(best), gauges[r])
            value = point_gauge(site.points, site.orders[c], g, h, floor, ceiling)
            if value >= floor:
                placed = (g, h, corners, corners, square)
                value = least_gauge(
                    triangles, boxes, np.int64(0), placed, every, m, np.inf, floor, value, room,
                    held,
                )[0]  # fmt: skip
            if value >= floor and value > gauges[r]:
                gauges[r] = value
                which[r] = c
                best = max(best, value)
    return gauges, which
