"""Compiled: the distance between the convex hulls of two sets of points.

Gilbert, Johnson and Keerthi 1988, A fast procedure for computing the distance between complex
objects: the point nearest the origin in the difference of the hulls, found by a sequence of
simplices of at most four corners, each nearer than the last. Each set is the corners of some
stones: ``side[i]`` is 1 where stone i belongs to the first set, 2 to the second, 0 to neither.
"""

from typing import NamedTuple

import numpy as np

from optimizer.compiled import compiled

CONVERGED = 1e-14  # relative, of the squared distance
MOST_ROUNDS = 200  # a few tens are usual
SURELY = 1.0 - 1e-12  # a distance of at most this share of another is less despite rounding
FLAT = 1e-13  # relative volume below which four corners enclose nothing


class Corners(NamedTuple):
    """The corners of k stones: ``points`` (n, 3) mm, those of stone i from ``spans[i, 0]`` to
    ``spans[i, 1]``, all within ``radii[i]`` of ``centres[i]``."""

    points: np.ndarray
    spans: np.ndarray
    centres: np.ndarray
    radii: np.ndarray


@compiled
def _farthest(corners, side, which, way):
    """Index of the point of set ``which`` that lies farthest along ``way`` (3,)."""
    points, spans, centres, radii = corners
    most = -np.inf
    found = -1
    size = np.sqrt(way[0] * way[0] + way[1] * way[1] + way[2] * way[2])
    for i in range(side.shape[0]):
        if side[i] != which:
            continue
        middle = centres[i, 0] * way[0] + centres[i, 1] * way[1] + centres[i, 2] * way[2]
        if middle + radii[i] * size <= most:
            continue
        for p in range(spans[i, 0], spans[i, 1]):
            far = points[p, 0] * way[0] + points[p, 1] * way[1] + points[p, 2] * way[2]
            if far > most:
                most = far
                found = p
    return found


@compiled
def _cross(u, v):
    """The cross product u × v, (3,)."""
    return np.array(
        [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]]
    )


@compiled
def _dot(u, v):
    """The dot product u · v of two vectors (3,)."""
    return u[0] * v[0] + u[1] * v[1] + u[2] * v[2]


@compiled
def _keep_nearer(simplex, trial, weights, least):
    """Replace the weights (4,) by the trial weights where the point of these is nearer the origin;
    the lesser squared distance."""
    x = y = z = 0.0
    for k in range(4):
        if trial[k] > 0.0:
            x += trial[k] * simplex[k, 0]
            y += trial[k] * simplex[k, 1]
            z += trial[k] * simplex[k, 2]
    squared = x * x + y * y + z * z
    if squared < least:
        weights[:] = trial
        return squared
    return least


@compiled
def _inside(simplex):
    """Whether the origin lies inside the tetrahedron of four corners."""
    for k in range(4):
        a, b, c = simplex[(k + 1) % 4], simplex[(k + 2) % 4], simplex[(k + 3) % 4]
        normal = _cross(b - a, c - a)
        own = _dot(normal, simplex[k] - a)
        scale = np.sqrt(_dot(normal, normal) * _dot(simplex[k] - a, simplex[k] - a))
        if abs(own) <= FLAT * scale or own * _dot(normal, -a) < 0.0:
            return False
    return True


@compiled
def _nearest(simplex, count, weights):
    """Fill the weights (4,) of the point nearest the origin in the hull of the first ``count``
    corners, and return its squared distance. Every corner, edge and triangle is tried."""
    weights[:] = 0.0
    if count == 4 and _inside(simplex):
        return 0.0
    least = np.inf
    trial = np.zeros(4)
    for i in range(count):
        trial[:] = 0.0
        trial[i] = 1.0
        least = _keep_nearer(simplex, trial, weights, least)
        for j in range(i):
            along = simplex[j] - simplex[i]
            square = _dot(along, along)
            share = -_dot(simplex[i], along) / square if square > 0.0 else -1.0
            if 0.0 < share < 1.0:
                trial[:] = 0.0
                trial[i] = 1.0 - share
                trial[j] = share
                least = _keep_nearer(simplex, trial, weights, least)
            for k in range(j):
                to_j, to_k, home = along, simplex[k] - simplex[i], -simplex[i]
                normal = _cross(to_j, to_k)
                square = _dot(normal, normal)
                if square <= 0.0:
                    continue
                at_j = _dot(_cross(home, to_k), normal) / square
                at_k = _dot(_cross(to_j, home), normal) / square
                if at_j > 0.0 and at_k > 0.0 and at_j + at_k < 1.0:
                    trial[:] = 0.0
                    trial[i] = 1.0 - at_j - at_k
                    trial[j] = at_j
                    trial[k] = at_k
                    least = _keep_nearer(simplex, trial, weights, least)
    return least


@compiled
def _initial_way(corners, side, out):
    """Unless ``out`` has a way already: the way between the means of the two sets, first to
    second."""
    points, spans = corners.points, corners.spans
    if out[8] != 0.0 or out[9] != 0.0 or out[10] != 0.0:
        return
    for i in range(side.shape[0]):
        turn = -1.0 if side[i] == 1 else 1.0 if side[i] == 2 else 0.0
        for p in range(spans[i, 0], spans[i, 1]):
            out[8:11] += turn * points[p] / (spans[i, 1] - spans[i, 0])


@compiled
def hull_distance(corners, side, enough, little, out):
    """Fill ``out`` (11,): the distance, the gap along the way, the nearest points of the first and
    the second set, and the unit way from the first to the second.

    The distance is that of two points of the hulls, so the true one is no greater; the gap is
    measured between two parallel planes, so the true distance is no less. Both agree to rounding
    unless the search ends early: once the gap is ``enough``, or the distance ``little`` or less.
    It begins along ``out[8:11]`` where that is not zero.
    """
    _initial_way(corners, side, out)
    points = corners.points
    way = out[8:11].copy()
    first, second, simplex = np.zeros((4, 3)), np.zeros((4, 3)), np.zeros((4, 3))
    weights, count, distance = np.zeros(4), 0, np.inf
    out[0], out[1] = np.inf, -np.inf
    for _ in range(MOST_ROUNDS):
        a = points[_farthest(corners, side, 1, way)]
        b = points[_farthest(corners, side, 2, -way)]
        size = np.sqrt(_dot(way, way))
        if size > 0.0:
            gap = _dot(way, b - a) / size
            if gap > out[1]:
                out[1] = gap
                out[8:11] = way / size
        if out[1] >= enough or (count and (distance - out[1]) <= CONVERGED * distance):
            break
        first[count], second[count], simplex[count] = a, b, a - b
        squared = _nearest(simplex, count + 1, weights)
        kept = 0
        for k in range(count + 1):
            if weights[k] > 0.0:
                first[kept], second[kept], simplex[kept] = first[k], second[k], simplex[k]
                weights[kept] = weights[k]
                kept += 1
        weights[kept:] = 0.0
        if kept == 0:  # the origin lies inside the simplex: the hulls meet
            out[0] = 0.0
            break
        if np.sqrt(squared) >= distance:  # no nearer: rounding allows no further progress
            break
        distance, count = np.sqrt(squared), kept
        out[0] = distance
        out[2:8] = 0.0
        way[:] = 0.0
        for k in range(count):
            out[2:5] += weights[k] * first[k]
            out[5:8] += weights[k] * second[k]
            way -= weights[k] * simplex[k]
        if distance <= little:
            break


@compiled
def mark_conflicts(corners, mm, near):
    """Mark in ``near`` (k, k) the pairs of stones whose hulls are less than ``mm`` apart."""
    spans, centres, radii = corners.spans, corners.centres, corners.radii
    side = np.array([1, 2], dtype=np.int8)
    out = np.zeros(11)
    own, middle, reach = np.zeros((2, 2), dtype=np.int64), np.zeros((2, 3)), np.zeros(2)
    pair = Corners(corners.points, own, middle, reach)
    for i in range(spans.shape[0]):
        own[0], middle[0], reach[0] = spans[i], centres[i], radii[i]
        for j in range(i):
            between = centres[j] - centres[i]
            if np.sqrt(_dot(between, between)) - radii[i] - radii[j] >= mm:
                continue
            own[1], middle[1], reach[1] = spans[j], centres[j], radii[j]
            out[8:11] = between
            hull_distance(pair, side, mm, mm * SURELY, out)
            near[i, j] = near[j, i] = out[1] < mm
