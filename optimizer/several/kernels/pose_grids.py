"""Compiled: how large a body can be at very many poses, and on either side of trial cuts."""

from typing import NamedTuple

import numpy as np

from optimizer.compiled import compiled


class SortedPoints(NamedTuple):
    """Points that a body may not contain, sorted by their distance from each centre."""

    points: np.ndarray  # (n, 3)
    orders: np.ndarray  # (c, n) the points' indices, nearest to each centre first
    distances: np.ndarray  # (c, n) in that order


class TurnedBody(NamedTuple):
    """A body at the origin, at each of r rotations; m facets."""

    facets: np.ndarray  # (r, m, 3), as in placement.kernels.gauges
    h: np.ndarray  # (m,), as in placement.kernels.gauges
    reach: np.ndarray  # (2,) the body lies within reach[0] + reach[1]·σ of the origin


class Poses(NamedTuple):
    """Poses sorted by σ, the greatest first."""

    sigmas: np.ndarray  # (p,)
    rotations: np.ndarray  # (p,) index of each pose's rotation
    centres: np.ndarray  # (p,) index of each pose's centre


@compiled
def gauges_at(around, centres, body, floor, ceiling):
    """The gauge at each rotation and centre, (r, c), at most ``ceiling``. Where the gauge is below
    ``floor``, any value below ``floor`` may be returned.

    ``around`` are the SortedPoints of ``centres`` (c, 3), ``body`` is a TurnedBody. A point
    farther away than the body reaches cannot limit it, so later points are skipped.
    """
    points, g, h, reach = around.points, body.facets, body.h, body.reach
    gauges = np.empty((g.shape[0], centres.shape[0]))
    for r in range(g.shape[0]):
        for c in range(centres.shape[0]):
            best = ceiling
            for k in range(points.shape[0]):
                if around.distances[c, k] >= reach[0] + reach[1] * best or best < floor:
                    break
                p = around.orders[c, k]
                x = points[p, 0] - centres[c, 0]
                y = points[p, 1] - centres[c, 1]
                z = points[p, 2] - centres[c, 2]
                value = -np.inf
                for i in range(g.shape[1]):
                    value = max(value, g[r, i, 0] * x + g[r, i, 1] * y + g[r, i, 2] * z - h[i])
                    if value >= best:
                        break
                best = min(best, value)
            gauges[r, c] = best
    return gauges


@compiled
def best_on_both_sides(poses, heights, fixed, paces, offsets, gap):
    """The greatest σ below and above each of parallel cuts at ``offsets`` (k,): (k, 2).

    ``poses`` are Poses. ``heights`` (c,) are those of the centres along the cuts' normal. At
    rotation r a body reaches ``fixed``[side, r] + ``paces``[side, r]·σ from its centre towards the
    cut, and stays ``gap`` away from it.
    """
    best = np.full((offsets.shape[0], 2), -np.inf)
    for p in range(poses.sigmas.shape[0]):
        sigma, r, height = poses.sigmas[p], poses.rotations[p], heights[poses.centres[p]]
        if sigma <= best.min():
            break
        for k in range(offsets.shape[0]):
            room = offsets[k] - height
            if sigma > best[k, 0]:
                beside = (room - gap - fixed[0, r]) / paces[0, r]
                best[k, 0] = max(best[k, 0], min(sigma, beside))
            if sigma > best[k, 1]:
                beside = (-room - gap - fixed[1, r]) / paces[1, r]
                best[k, 1] = max(best[k, 1], min(sigma, beside))
    return best
