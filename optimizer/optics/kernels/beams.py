"""Compiled: beams in a convex facetted body, split where facets meet.

Every number that hangs on the place (x, y) where a beam was entered is held as (a, b, c) of
a·x + b·y + c, otherwise as in ``rays``. A beam is a convex polygon of such places, corners
anticlockwise. The facet met next is the one at the least distance: where two are equally far runs
the edge between two beams.
"""

import numpy as np

from optimizer.compiled import compiled
from optimizer.optics.kernels.rays import reflectance

_GRAZING = 1e-12  # as for rays
_NOTHING = 1e-14  # of the frame's area: a polygon made of rounding


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
def clip(corners, count, a, b, c, room):
    """Cut a convex polygon down to where a·x + b·y + c > 0; returns how many corners are left.

    ``room`` (k, 2) holds one corner more than there are.
    """
    kept = 0
    x, y = corners[count - 1, 0], corners[count - 1, 1]
    before = a * x + b * y + c
    for i in range(count):
        p, q = corners[i, 0], corners[i, 1]
        here = a * p + b * q + c
        if (here > 0.0) != (before > 0.0):
            t = before / (before - here)
            room[kept, 0], room[kept, 1] = x + t * (p - x), y + t * (q - y)
            kept += 1
        if here > 0.0:
            room[kept, 0], room[kept, 1] = p, q
            kept += 1
        x, y, before = p, q, here
    corners[:kept] = room[:kept]
    return kept


@compiled(error_model="numpy")
def _entered(u, v, k, box, corners, room):
    """Fill ``corners`` with the part of ``box`` whose rays enter by facet ``k``; their number."""
    if v[k] >= 0.0:
        return 0
    corners[:4] = box
    count = 4
    for i in range(len(v)):
        if i == k or count < 3:
            continue
        if v[i] == 0.0:  # along the view: on its inner side
            count = clip(corners, count, -u[i, 0], -u[i, 1], -u[i, 2], room)
            continue
        # In front, i is met before k; behind, after it.
        sign = 1.0 if v[i] > 0.0 else -1.0
        a = sign * (u[k, 0] / v[k] - u[i, 0] / v[i])
        b = sign * (u[k, 1] / v[k] - u[i, 1] / v[i])
        c = sign * (u[k, 2] / v[k] - u[i, 2] / v[i])
        count = clip(corners, count, a, b, c, room)
    return count


@compiled(error_model="numpy")
def _ways_out(u, v, corners, count, way, near):
    """Fill ``way`` (f, 3) with the distances to the facets ahead, and ``near`` with those facets
    that can be the nearest somewhere in the polygon; returns their number."""
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
def _nearest(way, near, found, corners, count):
    """Of the facets in ``near`` the one that the ray through the polygon's middle meets."""
    x, y = corners[:count, 0].mean(), corners[:count, 1].mean()
    facet, least = near[0], np.inf
    for j in range(found):
        i = near[j]
        t = way[i, 0] * x + way[i, 1] * y + way[i, 2]
        if t < least:
            facet, least = i, t
    return facet


@compiled(error_model="numpy")
def _part(way, near, found, k, corners, count, part, room):
    """Fill ``part`` with the places whose rays meet facet ``k`` next; returns their number."""
    part[:count] = corners[:count]
    for j in range(found):
        i = near[j]
        if i != k and count >= 3:
            a, b, c = way[i, 0] - way[k, 0], way[i, 1] - way[k, 1], way[i, 2] - way[k, 2]
            count = clip(part, count, a, b, c, room)
    return count


@compiled(error_model="numpy")
def _refracted(normals, gram, index, k, u0, v0, p0, d0, u, v, d, place, leaving):
    """Enter by facet ``k``: fill what the beam carries inside, its place, and the way of what is
    mirrored; returns the share that is."""
    cos_in = -v0[k]
    mirrored, cos_out = reflectance(cos_in, 1.0, index)
    bend = cos_in / index - cos_out
    for j in range(3):
        t = -u0[k, j] / v0[k]
        for i in range(3):
            place[i, j] = p0[i, j] + t * d0[i]
        for i in range(len(v0)):
            u[i, j] = u0[i, j] + t * v0[i]
        leaving[j] = d0[j] + 2.0 * cos_in * normals[k, j]
        d[j] = d0[j] / index + bend * normals[k, j]
    for i in range(len(v0)):
        v[i] = v0[i] / index + bend * gram[k, i]
    return mirrored


@compiled(error_model="numpy")
def _met(normals, gram, index, k, u0, v0, p0, d0, u, v, d, place, leaving):
    """Meet facet ``k`` from inside: as ``_refracted``, with the way of what leaves."""
    cos_in = v0[k]
    mirrored, cos_out = reflectance(cos_in, index, 1.0)
    bend = index * cos_in - cos_out
    for j in range(3):
        t = -u0[k, j] / cos_in
        for i in range(3):
            place[i, j] = p0[i, j] + t * d0[i]
        for i in range(len(v0)):
            u[i, j] = u0[i, j] + t * v0[i]
        leaving[j] = index * d0[j] - bend * normals[k, j]
        d[j] = d0[j] - 2.0 * cos_in * normals[k, j]
    for i in range(len(v0)):
        v[i] = v0[i] - 2.0 * cos_in * gram[k, i]
    return mirrored


@compiled
def grown(array, need):
    """``array``, or a longer copy where it has not room for ``need`` rows."""
    if need <= len(array):
        return array
    longer = np.empty((2 * need, *array.shape[1:]), array.dtype)
    longer[: len(array)] = array
    return longer


@compiled(error_model="numpy")
def follow_beams(normals, gram, index, u0, v0, p0, d0, box, entries, finest, least, most):
    """Follow what enters by ``entries`` until less than ``least`` of it is left, or ``most``
    meetings are done; a beam whose light times area is less than ``finest`` is split no more.

    ``u0`` (f, 3), ``v0`` (f,), ``p0`` (3, 3), ``d0`` (3,) are of the rays outside, ``box`` (4, 2)
    holds all places. Returns arrays as in ``beams.Beams``.
    """
    facets = len(v0)
    widest = facets + 8
    corners, room, part = np.empty((widest, 2)), np.empty((widest, 2)), np.empty((widest, 2))
    way, near = np.empty((facets, 4)), np.empty(facets, np.int64)
    nothing = _NOTHING * area_of(box, 4)

    # By the number of meetings done: what the beam under way carries, and its place in the output.
    u, v, d = np.empty((most + 1, facets, 3)), np.empty((most + 1, facets)), np.empty((most + 1, 3))
    held, node = np.empty(most + 1), np.empty(most + 1, np.int64)
    # Beams to follow later, the last first: the facet met, how many before, and the polygon.
    room_for = facets + len(entries)
    facet, depth = np.empty(room_for, np.int64), np.zeros(room_for, np.int64)
    from_, waiting = np.zeros(room_for + 1, np.int64), np.empty((room_for * widest, 2))
    top = 0
    for k in entries:
        count = _entered(u0, v0, k, box, corners, room)
        if count >= 3 and area_of(corners, count) > nothing:
            facet[top], from_[top + 1] = k, from_[top] + count
            waiting[from_[top] : from_[top + 1]] = corners[:count]
            top += 1

    nodes, regions, steps, ends = 0, 0, 0, 0
    weight, leaving, place = np.empty(64), np.empty((64, 3)), np.empty((64, 3, 3))
    left, chain, outline = np.empty(64), np.empty(512, np.int64), np.empty((512, 2))
    chain_start, outline_start = np.zeros(65, np.int64), np.zeros(65, np.int64)

    while top > 0:
        top -= 1
        k, n, count = facet[top], depth[top], from_[top + 1] - from_[top]
        corners[:count] = waiting[from_[top] : from_[top + 1]]
        weight, leaving = grown(weight, nodes + 1), grown(leaving, nodes + 1)
        place = grown(place, nodes + 1)
        to = u[n], v[n], d[n], place[nodes], leaving[nodes]
        if n == 0:
            weight[nodes] = _refracted(normals, gram, index, k, u0, v0, p0, d0, *to)
            held[0] = 1.0 - weight[nodes]
        else:
            before = u[n - 1], v[n - 1], place[node[n - 1]], d[n - 1]
            mirrored = _met(normals, gram, index, k, *before, *to)
            weight[nodes] = held[n - 1] * (1.0 - mirrored)
            held[n] = held[n - 1] * mirrored
        node[n] = nodes
        nodes += 1

        waiting = grown(waiting, from_[top] + facets * widest)
        facet, depth = grown(facet, top + facets), grown(depth, top + facets)
        from_ = grown(from_, top + facets + 1)
        going_on = held[n] >= least and n < most
        if going_on:
            found = _ways_out(u[n], v[n], corners, count, way, near)
            if found == 0:
                going_on = False
            elif found == 1 or held[n] * area_of(corners, count) < finest:
                facet[top], depth[top] = _nearest(way, near, found, corners, count), n + 1
                waiting[from_[top] : from_[top] + count] = corners[:count]
                from_[top + 1] = from_[top] + count
                top += 1
            else:
                for j in range(found):
                    size = _part(way, near, found, near[j], corners, count, part, room)
                    if size >= 3 and area_of(part, size) > nothing:
                        facet[top], depth[top] = near[j], n + 1
                        waiting[from_[top] : from_[top] + size] = part[:size]
                        from_[top + 1] = from_[top] + size
                        top += 1
        if not going_on:
            left, chain = grown(left, regions + 1), grown(chain, steps + n + 1)
            outline = grown(outline, ends + count)
            chain_start = grown(chain_start, regions + 2)
            outline_start = grown(outline_start, regions + 2)
            left[regions] = held[n]
            chain[steps : steps + n + 1] = node[: n + 1]
            outline[ends : ends + count] = corners[:count]
            steps, ends, regions = steps + n + 1, ends + count, regions + 1
            chain_start[regions], outline_start[regions] = steps, ends
    return (
        weight[:nodes], leaving[:nodes], place[:nodes], left[:regions],
        chain_start[: regions + 1], chain[:steps], outline_start[: regions + 1], outline[:ends],
    )  # fmt: skip


@compiled(error_model="numpy")
def beam_chains(place, chain_start, chain, region, places, start, points, node):
    """Fill, for ``places`` (k, 2) in the regions ``region`` (k,), where their rays meet facets:
    ``points`` (m, 3) and the ``node`` (m,) of each, ray i from ``start[i]`` on."""
    for i in range(len(region)):
        x, y = places[i, 0], places[i, 1]
        first = chain_start[region[i]]
        for k in range(start[i], start[i + 1]):
            at = chain[first + k - start[i]]
            node[k] = at
            for j in range(3):
                points[k, j] = place[at, j, 0] * x + place[at, j, 1] * y + place[at, j, 2]
