"""The compiled tournament of poses where flaws may lie in the stone, but not below its table."""

import numpy as np

from optimizer.compiled import compiled
from optimizer.placement.kernels.gauges import world_facets
from optimizer.placement.kernels.points import point_gauge, worth_a_climb


@compiled
def tournament_off_table(site, spots, rotations, facets, part, ceiling, best):
    """As ``points.tournament``, and the part of the body below its table, of the facets ``part``,
    must keep clear of ``spots`` (n, 3), too."""
    count = rotations.shape[0]
    gauges = np.full(count, -np.inf)
    which = np.zeros(count, np.int64)
    every = np.arange(spots.shape[0])
    for r in range(count):
        for c in range(site.centres.shape[0]):
            turn, place = rotations[r], site.centres[c]
            floor = max(worth_a_climb(best), gauges[r])
            g, h = world_facets(facets.normals, facets.alpha, facets.beta, turn, place)
            value = point_gauge(site.points, site.orders[c], g, h, floor, ceiling)
            if value >= floor:
                g, h = world_facets(part.normals, part.alpha, part.beta, turn, place)
                value = point_gauge(spots, every, g, h, floor, value)
            if value >= floor and value > gauges[r]:
                gauges[r] = value
                which[r] = c
                best = max(best, value)
    return gauges, which
