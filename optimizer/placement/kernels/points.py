"""Compiled: the gauge of a growing body over points that stand in for the surface.

See ``gauges`` for the gauge; here the body's edges are square.
"""

from typing import NamedTuple

import numpy as np

from optimizer.compiled import compiled
from optimizer.mesh import Floats, Ints
from optimizer.placement.kernels.gauges import world_facets
from optimizer.placement.kernels.rows import put

KEEP = 0.6  # a pose below this share of the best is not worth a climb


class Facets(NamedTuple):
    """A body that grows with σ: {z : normals·z <= alpha + beta·σ}."""

    normals: Floats  # (m, 3)
    alpha: Floats  # (m,)
    beta: Floats  # (m,)


class Site(NamedTuple):
    """Where a tournament's poses stand, and the points that hold them."""

    points: Floats  # (n, 3)
    centres: Floats  # (c, 3)
    orders: Ints  # (c, n) the points' numbers, those nearest to each centre first


@compiled
def point_gauge(points, order, g, h, floor, ceiling):
    """Least gauge over ``points`` (n, 3) visited in ``order`` (n,), at most ``ceiling``; ends
    early once below ``floor``."""
    best = ceiling
    facet = 0
    for index in order:
        x = points[index, 0]
        y = points[index, 1]
        z = points[index, 2]
        value = -np.inf
        for step in range(-1, g.shape[0]):
            i = facet if step < 0 else step
            candidate = g[i, 0] * x + g[i, 1] * y + g[i, 2] * z - h[i]
            if candidate > value:
                value = candidate
                if value >= best:
                    facet = i
                    break
        if value < best:
            best = value
            if best < floor:
                return best
    return best


@compiled
def point_contacts(points, g, h, cut, index, pulls, gauges):
    """As ``surface_contacts``, for points alone, all of which have room."""
    count = 0
    facet = 0
    for p in range(points.shape[0]):
        x = points[p, 0]
        y = points[p, 1]
        z = points[p, 2]
        value = -np.inf
        active = facet
        for step in range(-1, g.shape[0]):
            i = facet if step < 0 else step
            candidate = g[i, 0] * x + g[i, 1] * y + g[i, 2] * z - h[i]
            if candidate > value:
                value = candidate
                active = i
                if value >= cut:
                    facet = i
                    break
        if value < cut:
            index[count] = p
            gauges[count] = value
            put(pulls[count], g[active])
            count += 1
    return count


@compiled
def worth_a_climb(best):
    """The least gauge that is worth a climb, where ``best`` is the best seen so far."""
    return best - (1.0 - KEEP) * abs(best)


@compiled
def tournament(site, rotations, facets, ceiling, best):
    """For each rotation the centre with the greatest gauge: (gauges, centre indices).

    A pose is dropped once it falls below what is worth a climb beside the best seen so far, which
    is ``best`` at the start.
    """
    count = rotations.shape[0]
    gauges = np.full(count, -np.inf)
    which = np.zeros(count, np.int64)
    for r in range(count):
        for c in range(site.centres.shape[0]):
            g, h = world_facets(
                facets.normals, facets.alpha, facets.beta, rotations[r], site.centres[c]
            )
            floor = max(worth_a_climb(best), gauges[r])
            value = point_gauge(site.points, site.orders[c], g, h, floor, ceiling)
            if value >= floor and value > gauges[r]:
                gauges[r] = value
                which[r] = c
                best = max(best, value)
    return gauges, which
