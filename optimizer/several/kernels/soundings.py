"""Compiled: how large a body can be at very many poses, and on either side of trial cuts."""

import numpy as np

from optimizer.compiled import compiled


@compiled
def gauges_at(points, centres, orders, distances, turned, h, reach, floor, ceiling):
    """The gauge at each rotation (r) and centre (c), (r, c), at most ``ceiling``; any value below
    ``floor`` may be given where it is below.

    ``orders`` (c, n) visits the points nearest to each centre first, at ``distances`` (c, n);
    facets ``turned`` (r, m, 3), ``h`` (m,) of ``placement.kernels.gauges`` are those of a body at
    the origin, which lies within ``reach``[0] + ``reach``[1]·σ of it: no point farther away holds
    it.
    """
    gauges = np.empty((turned.shape[0], centres.shape[0]))
    for r in range(turned.shape[0]):
        g = turned[r]
        for c in range(centres.shape[0]):
            best = ceiling
            for k in range(points.shape[0]):
                if distances[c, k] >= reach[0] + reach[1] * best or best < floor:
                    break
                p = orders[c, k]
                x = points[p, 0] - centres[c, 0]
                y = points[p, 1] - centres[c, 1]
                z = points[p, 2] - centres[c, 2]
                value = -np.inf
                for i in range(g.shape[0]):
                    value = max(value, g[i, 0] * x + g[i, 1] * y + g[i, 2] * z - h[i])
                    if value >= best:
                        break
                best = min(best, value)
            gauges[r, c] = best
    return gauges


@compiled
def best_beside(sigmas, turns, centres, along, fixed, paces, offsets, gap):
    """The greatest σ below and above each of parallel cuts at ``offsets`` (k,): (k, 2).

    ``along`` (c,) are the centres' heights; a body at turn r reaches ``fixed``[side, r] +
    ``paces``[side, r]·σ towards the cut from each side, and stays ``gap`` away from it.
    ``sigmas`` (p,) fall.
    """
    best = np.full((offsets.shape[0], 2), -np.inf)
    for p in range(sigmas.shape[0]):
        sigma, r, height = sigmas[p], turns[p], along[centres[p]]
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
