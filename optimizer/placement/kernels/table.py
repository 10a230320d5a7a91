"""The compiled tournament of poses where flaws may lie in the stone, but not below its table."""

import numpy as np

from optimizer.compiled import compiled
from optimizer.placement.kernels.gauges import world_facets
from optimizer.placement.kernels.points import point_gauge


@compiled
def tournament_off_table(
    points, centres, orders, spots, rotations, normals, alpha, beta, part_normals, part_alpha,
    part_beta, ceiling, keep, best,
):  # fmt: skip
    """As ``points.tournament``, and the part of the body below its table
    (``part_normals``, ...) must keep clear of ``spots`` (n, 3), too."""
    count = rotations.shape[0]
    gauges = np.full(count, -np.inf)
    which = np.zeros(count, np.int64)
    every = np.arange(spots.shape[0])
    for r in range(count):
        for c in range(centres.shape[0]):
            floor = max(best - (1.0 - keep) * abs(best), gauges[r])
            g, h = world_facets(normals, alpha, beta, rotations[r], centres[c])
            value = point_gauge(points, orders[c], g, h, floor, ceiling)
            if value >= floor:
                g, h = world_facets(part_normals, part_alpha, part_beta, rotations[r], centres[c])
                value = point_gauge(spots, every, g, h, floor, value)
            if value >= floor and value > gauges[r]:
                gauges[r] = value
                which[r] = c
                best = max(best, value)
    return gauges, which
