"""Compiled: the largest ellipses of one shape in the sections of a polytope that may be turned."""

import numpy as np

from optimizer.compiled import compiled
from optimizer.placement.kernels.linear import best_step

WAYS = 12  # in which an ellipse's centre is kept near a place
NONE = 1e-12  # of a reach: that a facet square to the direction has


@compiled
def _reach(row, inverse):
    """How far {y : y·G·y <= 1} reaches along a row (2,), times its length."""
    squared = 0.0
    for k in range(2):
        for j in range(2):
            squared += row[k] * inverse[k, j] * row[j]
    return np.sqrt(squared) + NONE


@compiled
def _turned_facets(normals, across, direction, inverse, sine, rows, turned):
    """Fill ``rows`` (f, 4), each facet's normal along the section's two axes, its reach and its
    normal along the direction; and ``turned`` (4, f, 4), the same with the normal moved by ``sine``
    either way in the section and either way square to that."""
    facets = normals.shape[0]
    for f in range(facets):
        for k in range(2):
            rows[f, k] = 0.0
            for j in range(3):
                rows[f, k] += across[k, j] * normals[f, j]
        rows[f, 2] = _reach(rows[f], inverse)
        rows[f, 3] = 0.0
        for j in range(3):
            rows[f, 3] += direction[j] * normals[f, j]
        length = np.sqrt(rows[f, 0] ** 2 + rows[f, 1] ** 2)
        along0, along1 = 1.0, 0.0
        if length > NONE:
            along0, along1 = rows[f, 0] / length, rows[f, 1] / length
        for way in range(4):
            aside = sine if way % 2 == 0 else -sine
            up = sine if way < 2 else -sine
            # The normal is length·along + rows[3]·direction; square to it and to the section's
            # line is −rows[3]·along + length·direction.
            turned[way, f, 0] = rows[f, 0] - aside * along1 - up * rows[f, 3] * along0
            turned[way, f, 1] = rows[f, 1] + aside * along0 - up * rows[f, 3] * along1
            turned[way, f, 2] = _reach(turned[way, f], inverse)
            turned[way, f, 3] = rows[f, 3] + up * length


@compiled
def _size_at(turned, offsets, less, height, x):
    """The largest ellipse about x (2,) in all sections at a height of the turned polytope."""
    size = np.inf
    for way in range(4):
        for f in range(len(offsets)):
            row = turned[way, f]
            room = offsets[f] - less - height * row[3] - row[0] * x[0] - row[1] * x[1]
            size = min(size, room / row[2])
    return size


@compiled
def largest_ellipses(body, frames, radii, heights, walls, sizes, centres):
    """Fill ``sizes`` (n, a) and ``centres`` (n, a, 2): the largest ellipse {y : y·G·y <= size²} in
    the section of a polytope at each height (n, a) along each of n directions.

    ``body`` is normals (f, 3), offsets (f,) and radius; ``frames`` are directions (n, 3), the axes
    of their sections (n, 2, 3) and the inverses of G (n, 2, 2). The ellipse lies in the polytope
    turned about the origin by any angle up to ``radii`` (n,): its facets' normals then lie within
    the squares that ``_turned_facets`` makes, but for the shortening by the cosine.
    ``walls`` (n, 4): |centre − walls[:2]| + walls[2]·size stays below walls[3], where that is
    finite. A size holds for the centre given with it, whether or not the linear program was solved.
    """
    normals, offsets, radius = body
    directions, across, inverses = frames
    facets = normals.shape[0]
    turns = 2.0 * np.pi * np.arange(WAYS) / WAYS
    rows, turned = np.empty((facets + WAYS, 4)), np.empty((4, facets, 4))
    limits = np.empty(facets + WAYS)
    objective = np.array([0.0, 0.0, 1.0])
    box = np.array([2.0 * radius, 2.0 * radius, 100.0])
    for i in range(heights.shape[0]):
        sine, less = np.sin(radii[i]), (1.0 - np.cos(radii[i])) * radius
        _turned_facets(normals, across[i], directions[i], inverses[i], sine, rows[:facets], turned)
        count = facets
        if walls[i, 3] < np.inf:
            for turn in turns:
                rows[count, 0] = np.cos(turn)
                rows[count, 1] = np.sin(turn)
                rows[count, 2] = walls[i, 2] * np.cos(np.pi / WAYS)
                along = rows[count, 0] * walls[i, 0] + rows[count, 1] * walls[i, 1]
                limits[count] = walls[i, 3] * np.cos(np.pi / WAYS) + along
                count += 1
        for a in range(heights.shape[1]):
            for f in range(facets):
                limits[f] = offsets[f] - heights[i, a] * rows[f, 3]
            x = best_step(rows[:count, :3], limits[:count], objective, box)[0]
            size = _size_at(turned, offsets, less, heights[i, a], x)
            if walls[i, 3] < np.inf:
                off = np.sqrt((x[0] - walls[i, 0]) ** 2 + (x[1] - walls[i, 1]) ** 2)
                size = min(size, (walls[i, 3] - off) / walls[i, 2])
            sizes[i, a] = size
            centres[i, a, 0] = x[0]
            centres[i, a, 1] = x[1]
