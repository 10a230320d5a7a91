"""Compiled: rays in a convex facetted body, followed in the facets' own numbers.

A ray in a convex body never splits in two that both stay inside: at each facet a share leaves and
the rest is mirrored. So one chain of points is the whole path of a ray.

With facets a_i·x = b_i, a ray p + t·d is carried as u_i = a_i·p − b_i and v_i = a_i·d beside p and
d. A step is u += t·v; a mirroring at facet k is v −= 2·v_k·(a_i·a_k). The next facet is the least
−u_i/v_i over v_i > 0, so that a step costs a few operations a facet and no scalar products.
"""

from typing import NamedTuple

import numpy as np

from optimizer.compiled import compiled
from optimizer.mesh import Floats, Ints

_MISSED = -1
_GRAZING = 1e-12  # a ray along a facet, to rounding, does not meet it


class RefractingBody(NamedTuple):
    """The convex body {x : normals·x <= offsets} and its refractive index; outside it is 1."""

    normals: Floats  # (f, 3) unit
    offsets: Floats  # (f,)
    gram: Floats  # (f, f) scalar products of the normals
    refractive_index: float


class PathBuffers(NamedTuple):
    """Memory for the paths of n rays with m meetings in all; the fields are those of ``Paths``."""

    mirrored_share: Floats  # (n,)
    mirrored_direction: Floats  # (n, 3)
    residual: Floats  # (n,)
    start: Ints  # (n+1,)
    points: Floats  # (m, 3)
    weight: Floats  # (m,)
    leaving: Floats  # (m, 3)


@compiled(error_model="numpy", inline="always")
def reflectance(cos_in, n_from, n_to):
    """(share reflected, cosine of the refracted ray), unpolarised light, by Fresnel's equations.

    ``cos_in`` is the cosine between ray and normal; beyond the critical angle the result is (1, 0).
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
def _way_out(u, v, distances):
    """(facet that a ray inside meets next, distance to it, not negative).

    ``distances`` (f,) is scratch memory. All distances are computed before any are compared: a loop
    without branches handles several facets at a time.
    """
    for i in range(len(u)):
        distances[i] = -u[i] / v[i] if v[i] > _GRAZING else np.inf
    facet, near = 0, np.inf
    for i in range(len(u)):
        if distances[i] < near:
            near, facet = distances[i], i
    return facet, max(near, 0.0)


@compiled(error_model="numpy")
def trace_rays(body, origins, directions, least, most, paths):
    """Follow rays until less than ``least`` of each is left, or ``most`` meetings are done.

    Fills the buffers ``paths`` and returns the number of rays done, which is less than the number
    of rays where the buffers are full.
    """
    normals, gram, index = body.normals, body.gram, body.refractive_index
    points, leaving = paths.points, paths.leaving
    count, capacity = len(body.offsets), len(paths.weight)
    u, v, distances = np.empty(count), np.empty(count), np.empty(count)
    at = 0
    for ray in range(len(origins)):
        paths.start[ray] = at
        if at + most + 1 > capacity:
            return ray
        p, d = origins[ray].copy(), directions[ray].copy()
        for i in range(count):
            on_normal = normals[i, 0] * p[0] + normals[i, 1] * p[1] + normals[i, 2] * p[2]
            u[i] = on_normal - body.offsets[i]
            v[i] = normals[i, 0] * d[0] + normals[i, 1] * d[1] + normals[i, 2] * d[2]
        k, t = _way_in(u, v)
        paths.mirrored_share[ray], paths.residual[ray] = 0.0, 0.0
        for j in range(3):
            paths.mirrored_direction[ray, j] = d[j]
        if k == _MISSED:
            continue
        cos_in = -v[k]
        share, cos_out = reflectance(cos_in, 1.0, index)
        paths.mirrored_share[ray] = share
        bend = cos_in / index - cos_out
        for j in range(3):
            p[j] += t * d[j]
            paths.mirrored_direction[ray, j] = d[j] + 2.0 * cos_in * normals[k, j]
            d[j] = d[j] / index + bend * normals[k, j]
            points[at, j], leaving[at, j] = p[j], paths.mirrored_direction[ray, j]
        for i in range(count):
            u[i] += t * v[i]
            v[i] = v[i] / index + bend * gram[k, i]
        paths.weight[at] = 0.0
        at += 1
        inside = 1.0 - share
        for _ in range(most):
            k, t = _way_out(u, v, distances)
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
            paths.weight[at] = inside * (1.0 - share)
            at += 1
            inside *= share
            if inside < least:
                break
        paths.residual[ray] = inside
    paths.start[len(origins)] = at
    return len(origins)
