"""Compiled: beams in a convex facetted body, split where facets meet.

A beam is all rays that enter within a convex polygon of places (x, y), corners anticlockwise, and
meet the same facets. Numbers are named as in ``rays``. A number that depends on the place is linear
in it and held as the (a, b, c) of a·x + b·y + c. The facet met next is the one at the least
distance, so the edge between two beams runs where two facets are equally far.
"""

from typing import NamedTuple

import numpy as np

from optimizer.compiled import compiled
from optimizer.mesh import Floats
from optimizer.optics.kernels.rays import reflectance

_GRAZING = 1e-12  # as for rays
_NEGLIGIBLE = 1e-14  # of the frame's area: a polygon made of rounding


class Beam(NamedTuple):
    """Rays of one direction between two meetings with facets; (..., 3) is linear in the place."""

    u: Floats  # (f, 3) normals·p − offsets
    v: Floats  # (f,) normals·d
    place: Floats  # (3, 3) p, where the rays met the last facet
    direction: Floats  # (3,) d


@compiled(error_model="numpy")
def area_of(corners, count):
    """Of the polygon of the first ``count`` corners."""
    twice = 0.0
    x, y = corners[0, 0], corners[0, 1]
    for i in range(1, count - 1):
        ax, ay = corners[i, 0] - x, corners[i, 1] - y
        bx, by = corners[i + 1, 0] - x, corners[i + 1, 1] - y
        twice += ax * by - ay * bx
    return 0.5 * twice


@compiled(error_model="numpy")
def clip(corners, count, a, b, c, scratch):
    """Cut a convex polygon down to where a·x + b·y + c > 0; returns how many corners are left.

    ``scratch`` (k, 2) has space for one corner more.
    """
    kept = 0
    x, y = corners[count - 1, 0], corners[count - 1, 1]
    before = a * x + b * y + c
    for i in range(count):
        p, q = corners[i, 0], corners[i, 1]
        here = a * p + b * q + c
        if (here > 0.0) != (before > 0.0):
            t = before / (before - here)
            scratch[kept, 0], scratch[kept, 1] = x + t * (p - x), y + t * (q - y)
            kept += 1
        if here > 0.0:
            scratch[kept, 0], scratch[kept, 1] = p, q
            kept += 1
        x, y, before = p, q, here
    corners[:kept] = scratch[:kept]
    return kept


@compiled(error_model="numpy")
def _entered(u, v, k, box, corners, scratch):
    """Fill ``corners`` with the part of ``box`` whose rays enter by facet ``k``; returns how many
    corners there are."""
    if v[k] >= 0.0:
        return 0
    corners[:4] = box
    count = 4
    for i in range(len(v)):
        if i == k or count < 3:
            continue
        if v[i] == 0.0:  # the facet runs along the view: keep its inner side
            count = clip(corners, count, -u[i, 0], -u[i, 1], -u[i, 2], scratch)
            continue
        # A front facet i must be met before k, a back facet after k.
        sign = 1.0 if v[i] > 0.0 else -1.0
        a = sign * (u[k, 0] / v[k] - u[i, 0] / v[i])
        b = sign * (u[k, 1] / v[k] - u[i, 1] / v[i])
        c = sign * (u[k, 2] / v[k] - u[i, 2] / v[i])
        count = clip(corners, count, a, b, c, scratch)
    return count


@compiled(error_model="numpy")
def _ways_out(u, v, corners, count, way, near):
    """Fill ``way`` (f, 4) with the distance to each facet ahead, (a, b, c) and its least value, and
    ``near`` with the facets that are the nearest anywhere in the polygon; returns their number."""
    most, ahead = np.inf, 0
    for i in range(len(v)):
        if v[i] <= _GRAZING:
            continue
        a, b, c = -u[i, 0] / v[i], -u[i, 1] / v[i], -u[i, 2] / v[i]
        least, greatest = np.inf, -np.inf
        for j in range(count):
            t = a * corners[j, 0] + b * corners[j, 1] + c
            least, greatest = min(least, t), max(greatest, t)
        if least <= most:
            way[i, 0], way[i, 1], way[i, 2], way[i, 3] = a, b, c, least
            near[ahead] = i
            ahead += 1
            most = min(most, greatest)
    found = 0
    for j in range(ahead):
        if way[near[j], 3] <= most:
            near[found] = near[j]
            found += 1
    return found


@compiled(error_model="numpy")
def _nearest(way, near, corners, count):
    """The facet of ``near`` that the ray through the polygon's middle meets."""
    x, y = corners[:count, 0].mean(), corners[:count, 1].mean()
    facet, least = near[0], np.inf
    for i in near:
        t = way[i, 0] * x + way[i, 1] * y + way[i, 2]
        if t < least:
            facet, least = i, t
    return facet


@compiled(error_model="numpy")
def _part(way, near, k, corners, count, part, scratch):
    """Fill ``part`` with the polygon of places whose rays meet facet ``k`` next; returns how many
    corners the polygon has."""
    part[:count] = corners[:count]
    for i in near:
        if i != k and count >= 3:
            a, b, c = way[i, 0] - way[k, 0], way[i, 1] - way[k, 1], way[i, 2] - way[k, 2]
            count = clip(part, count, a, b, c, scratch)
    return count


@compiled(error_model="numpy")
def _refracted(body, k, outside, inside, leaving):
    """Enter by facet ``k``: fill the beam ``inside`` and the direction ``leaving`` (3,) of what is
    mirrored; returns the share that is mirrored."""
    index, normal = body.refractive_index, body.normals[k]
    cos_in = -outside.v[k]
    mirrored, cos_out = reflectance(cos_in, 1.0, index)
    bend = cos_in / index - cos_out
    for j in range(3):
        t = -outside.u[k, j] / outside.v[k]
        for i in range(3):
            inside.place[i, j] = outside.place[i, j] + t * outside.direction[i]
        for i in range(len(outside.v)):
            inside.u[i, j] = outside.u[i, j] + t * outside.v[i]
        leaving[j] = outside.direction[j] + 2.0 * cos_in * normal[j]
        inside.direction[j] = outside.direction[j] / index + bend * normal[j]
    for i in range(len(outside.v)):
        inside.v[i] = outside.v[i] / index + bend * body.gram[k, i]
    return mirrored


@compiled(error_model="numpy")
def _mirrored(body, k, before, after, leaving):
    """Meet facet ``k`` from inside: fill the mirrored beam ``after`` and the direction ``leaving``
    (3,) of what leaves; returns the share that is mirrored."""
    index, normal = body.refractive_index, body.normals[k]
    cos_in = before.v[k]
    mirrored, cos_out = reflectance(cos_in, index, 1.0)
    bend = index * cos_in - cos_out
    for j in range(3):
        t = -before.u[k, j] / cos_in
        for i in range(3):
            after.place[i, j] = before.place[i, j] + t * before.direction[i]
        for i in range(len(before.v)):
            after.u[i, j] = before.u[i, j] + t * before.v[i]
        leaving[j] = index * before.direction[j] - bend * normal[j]
        after.direction[j] = before.direction[j] - 2.0 * cos_in * normal[j]
    for i in range(len(before.v)):
        after.v[i] = before.v[i] - 2.0 * cos_in * body.gram[k, i]
    return mirrored


@compiled
def grown(array, need):
    """``array``, or a longer copy where it has fewer than ``need`` rows."""
    if need <= len(array):
        return array
    longer = np.empty((2 * need, *array.shape[1:]), array.dtype)
    longer[: len(array)] = array
    return longer


@compiled(error_model="numpy")
def follow_beams(body, outside, box, finest, least, most, entries):
    """Follow the beams that enter by the facets ``entries`` until less than ``least`` of each is
    left, or ``most`` meetings are done. A beam whose light times area is less than ``finest`` is
    split no more.

    ``outside`` is the Beam of all rays before they meet the body, ``box`` (4, 2) the rectangle of
    places. Returns the arrays of ``beams.Beams``.
    """
    facets = len(outside.v)
    widest = facets + 8
    corners, scratch = np.empty((widest, 2)), np.empty((widest, 2))
    part = np.empty((widest, 2))
    way, near = np.empty((facets, 4)), np.empty(facets, np.int64)
    negligible = _NEGLIGIBLE * area_of(box, 4)

    # Row n: the beam under way after n meetings, its share of light, and its node in the output.
    u, v, d = np.empty((most + 1, facets, 3)), np.empty((most + 1, facets)), np.empty((most + 1, 3))
    inside, node = np.empty(most + 1), np.empty(most + 1, np.int64)
    # The stack of beams to follow: the facet met next, the meetings before, and the polygon.
    capacity = facets + len(entries)
    facet, depth = np.empty(capacity, np.int64), np.zeros(capacity, np.int64)
    from_, waiting = np.zeros(capacity + 1, np.int64), np.empty((capacity * widest, 2))
    top = 0
    for k in entries:
        count = _entered(outside.u, outside.v, k, box, corners, scratch)
        if count >= 3 and area_of(corners, count) > negligible:
            facet[top], from_[top + 1] = k, from_[top] + count
            waiting[from_[top] : from_[top + 1]] = corners[:count]
            top += 1

    nodes, regions, steps, ends = 0, 0, 0, 0
    weight, leaving, place = np.empty(64), np.empty((64, 3)), np.empty((64, 3, 3))
    residual, chain, outline = np.empty(64), np.empty(512, np.int64), np.empty((512, 2))
    chain_start, outline_start = np.zeros(65, np.int64), np.zeros(65, np.int64)

    while top > 0:
        top -= 1
        k, n, count = facet[top], depth[top], from_[top + 1] - from_[top]
        corners[:count] = waiting[from_[top] : from_[top + 1]]
        weight, leaving = grown(weight, nodes + 1), grown(leaving, nodes + 1)
        place = grown(place, nodes + 1)
        after = Beam(u[n], v[n], place[nodes], d[n])
        if n == 0:
            weight[nodes] = _refracted(body, k, outside, after, leaving[nodes])
            inside[0] = 1.0 - weight[nodes]
        else:
            before = Beam(u[n - 1], v[n - 1], place[node[n - 1]], d[n - 1])
            mirrored = _mirrored(body, k, before, after, leaving[nodes])
            weight[nodes] = inside[n - 1] * (1.0 - mirrored)
            inside[n] = inside[n - 1] * mirrored
        node[n] = nodes
        nodes += 1

        waiting = grown(waiting, from_[top] + facets * widest)
        facet, depth = grown(facet, top + facets), grown(depth, top + facets)
        from_ = grown(from_, top + facets + 1)
        going_on = inside[n] >= least and n < most
        if going_on:
            found = _ways_out(u[n], v[n], corners, count, way, near)
            if found == 0:
                going_on = False
            elif found == 1 or inside[n] * area_of(corners, count) < finest:
                facet[top], depth[top] = _nearest(way, near[:found], corners, count), n + 1
                waiting[from_[top] : from_[top] + count] = corners[:count]
                from_[top + 1] = from_[top] + count
                top += 1
            else:
                for j in range(found):
                    size = _part(way, near[:found], near[j], corners, count, part, scratch)
                    if size >= 3 and area_of(part, size) > negligible:
                        facet[top], depth[top] = near[j], n + 1
                        waiting[from_[top] : from_[top] + size] = part[:size]
                        from_[top + 1] = from_[top] + size
                        top += 1
        if not going_on:
            residual, chain = grown(residual, regions + 1), grown(chain, steps + n + 1)
            outline = grown(outline, ends + count)
            chain_start = grown(chain_start, regions + 2)
            outline_start = grown(outline_start, regions + 2)
            residual[regions] = inside[n]
            chain[steps : steps + n + 1] = node[: n + 1]
            outline[ends : ends + count] = corners[:count]
            steps, ends, regions = steps + n + 1, ends + count, regions + 1
            chain_start[regions], outline_start[regions] = steps, ends
    return (
        weight[:nodes], leaving[:nodes], place[:nodes], residual[:regions],
        chain_start[: regions + 1], chain[:steps], outline_start[: regions + 1], outline[:ends],
    )  # fmt: skip


@compiled(error_model="numpy")
def beam_points(place, places, start, node, points):
    """Fill ``points`` (m, 3) with where the rays at ``places`` (k, 2) meet facets: ray i at its
    nodes ``node[start[i]:start[i + 1]]``, whose ``place`` (n, 3, 3) is that of ``beams.Beams``."""
    for i in range(len(places)):
        x, y = places[i, 0], places[i, 1]
        for k in range(start[i], start[i + 1]):
            at = node[k]
            for j in range(3):
                points[k, j] = place[at, j, 0] * x + place[at, j, 1] * y + place[at, j, 2]
