"""Compiled: rays in a convex facetted body, followed in the facets' own numbers.

Within a convex body a ray never splits in two that both stay inside: at each facet a share leaves
and the rest is mirrored. One chain of points is therefore the whole of it.

With facets a_i·x = b_i, a ray p + t·d is carried as u_i = a_i·p − b_i and v_i = a_i·d beside p and
d. A step is u += t·v; a mirroring at facet k is v −= 2·v_k·(a_i·a_k). The next facet is the least
−u_i/v_i over v_i > 0, so that a step costs a few operations a facet and no scalar products.
"""

import numpy as np

from optimizer.compiled import compiled

_MISSED = -1
_GRAZING = 1e-12  # a ray along a facet, to rounding, does not meet it


@compiled(error_model="numpy", inline="always")
def reflectance(cos_in, n_from, n_to):
    """(share reflected, cosine of the refracted ray), unpolarised light, by Fresnel's equations.

    ``cos_in`` of the ray against the normal; beyond the critical angle (1, 0).
    """
    eta = n_from / n_to
    sin2 = eta * eta * (1.0 - cos_in * cos_in)
    if sin2 >= 1.0:
        return 1.0, 0.0
    cos_out = np.sqrt(1.0 - sin2)
    s = (n_from * cos_in - n_to * cos_out) / (n_from * cos_in + n_to * cos_out)
    p = (n_from * cos_out - n_to * cos_in) / (n_from * cos_out + n_to * cos_in)
    return 0.5 * (s * s + p * p), cos_out


@compiled(error_model="numpy")
def _way_in(u, v):
    """(facet where a ray enters, distance to it); facet −1 where it misses the body."""
    enter, leave, facet = -np.inf, np.inf, _MISSED
    for i in range(len(u)):
        if v[i] < 0.0:
            t = -u[i] / v[i]
            if t > enter:
                enter, facet = t, i
        elif v[i] > 0.0:
            leave = min(leave, -u[i] / v[i])
        elif u[i] > 0.0:
            return _MISSED, 0.0
    if enter >= leave or enter < 0.0:
        return _MISSED, 0.0
    return facet, enter


@compiled(error_model="numpy")
def _way_out(u, v, ways):
    """(facet that a ray inside meets next, distance to it, not negative).

    ``ways`` (f,) is room for the distance to each, all reckoned before they are compared: a loop
    without branches runs several facets at a time.
    """
    for i in range(len(u)):
        ways[i] = -u[i] / v[i] if v[i] > _GRAZING else np.inf
    facet, near = 0, np.inf
    for i in range(len(u)):
        if ways[i] < near:
            near, facet = ways[i], i
    return facet, max(near, 0.0)


@compiled(error_model="numpy")
def trace_rays(
    normals, offsets, gram, index, origins, directions, least, most,
    first, mirrored, left, start, points, weight, leaving,
):  # fmt: skip
    """Follow rays until less than ``least`` of each is left, or ``most`` meetings are done.

    Outputs are filled for the rays done, whose number is returned: fewer than given where the room
    in ``points``, ``weight`` and ``leaving`` ends. They are as in ``paths.Paths``.
    """
    count, room = len(offsets), len(weight)
    u, v, ways = np.empty(count), np.empty(count), np.empty(count)
    at = 0
    for ray in range(len(origins)):
        start[ray] = at
        if at + most + 1 > room:
            return ray
        p, d = origins[ray].copy(), directions[ray].copy()
        for i in range(count):
            u[i] = normals[i, 0] * p[0] + normals[i, 1] * p[1] + normals[i, 2] * p[2] - offsets[i]
            v[i] = normals[i, 0] * d[0] + normals[i, 1] * d[1] + normals[i, 2] * d[2]
        k, t = _way_in(u, v)
        first[ray], left[ray] = 0.0, 0.0
        for j in range(3):
            mirrored[ray, j] = d[j]
        if k == _MISSED:
            continue
        cos_in = -v[k]
        share, cos_out = reflectance(cos_in, 1.0, index)
        first[ray] = share
        bend = cos_in / index - cos_out
        for j in range(3):
            p[j] += t * d[j]
            mirrored[ray, j] = d[j] + 2.0 * cos_in * normals[k, j]
            d[j] = d[j] / index + bend * normals[k, j]
            points[at, j], leaving[at, j] = p[j], mirrored[ray, j]
        for i in range(count):
            u[i] += t * v[i]
            v[i] = v[i] / index + bend * gram[k, i]
        weight[at] = 0.0
        at += 1
        held = 1.0 - share
        for _ in range(most):
            k, t = _way_out(u, v, ways)
            cos_in = v[k]
            share, cos_out = reflectance(cos_in, index, 1.0)
            bend = index * cos_in - cos_out
            for j in range(3):
                p[j] += t * d[j]
                points[at, j] = p[j]
                leaving[at, j] = index * d[j] - bend * normals[k, j]
                d[j] -= 2.0 * cos_in * normals[k, j]
            for i in range(count):
                u[i] += t * v[i]
                v[i] -= 2.0 * cos_in * gram[k, i]
            weight[at] = held * (1.0 - share)
            at += 1
            held *= share
            if held < least:
                break
        left[ray] = held
    start[len(origins)] = at
    return len(origins)
