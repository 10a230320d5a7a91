"""Compiled: what of the surface is near a growing body, as contacts for the next step.

See ``gauges`` for the gauge, ``placed`` and ``room``.
"""

import numpy as np

from optimizer.boxes.kernels.build import STACK
from optimizer.compiled import compiled
from optimizer.placement.kernels.gauges import box_gauge, held_triangle, least_gauge, workspace
from optimizer.placement.kernels.rows import put


@compiled
def uncrowded_depth(boxes, placed, cut, most):
    """The deepest level of the tree at which no more than ``most`` nodes can hold a triangle
    whose gauge is below ``cut``; the root's level is 0, and never more than the leaves'."""
    g, h = placed[0], placed[1]
    m = g.shape[0]
    deepest = 0
    while (2 << deepest) - 1 < boxes.shape[0]:
        deepest += 1
    nodes, counts, lists = (
        np.zeros(most, np.int64),
        np.empty(most, np.int64),
        np.empty((most, m), np.int64),
    )
    below, below_counts, below_lists = nodes.copy(), counts.copy(), lists.copy()
    here, room = np.empty(m, np.int64), np.empty(m)
    counts[0] = m
    put(lists[0], np.arange(m))
    size = 1
    for depth in range(deepest):
        found = 0
        for k in range(size):
            for node in range(2 * nodes[k] + 1, 2 * nodes[k] + 3):
                bound, kept = box_gauge(g, h, boxes, node, cut, lists[k], counts[k], here, room)
                if bound >= cut:
                    continue
                if found == most:
                    return depth
                below[found] = node
                below_counts[found] = kept
                put(below_lists[found], here[:kept])
                found += 1
        nodes, below, counts, below_counts = below, nodes, below_counts, counts
        lists, below_lists = below_lists, lists
        size = found
    return deepest + 1


@compiled
def surface_contacts(triangles, boxes, placed, exact, cut, depth, index, points, pulls, gauges):
    """Every triangle whose gauge is below ``cut``, into arrays with room for c of them: its
    number into ``index``, where it holds the body (scan frame) into ``points`` (c, 3), the
    direction in which the gauge grows there into ``pulls`` (c, 3), the gauge into ``gauges``.

    Under each node of the tree's level ``depth``, where it has one, the triangle of least gauge
    stands for all. From ``exact`` on, the facet that separates a triangle best is enough in
    place of the gauge. Returns how many; c + 1: there are more than c.
    """
    g, h = placed[0], placed[1]
    m, n = g.shape[0], triangles.shape[0]
    leaves = (boxes.shape[0] + 1) // 2
    whole = (1 << depth) - 1  # nodes from here on are looked at as one
    room, held, most = workspace(m), np.empty((2, 3)), np.empty(m)
    nodes, counts = np.empty(STACK, np.int64), np.empty(STACK, np.int64)
    lists, here = np.empty((STACK, m), np.int64), np.empty(m, np.int64)
    count, size = 0, 1
    nodes[0], counts[0] = 0, m
    put(lists[0], np.arange(m))
    while size > 0:
        size -= 1
        node = nodes[size]
        bound, kept = box_gauge(g, h, boxes, node, cut, lists[size], counts[size], here, most)
        if bound >= cut:
            continue
        if node < min(whole, leaves - 1):
            for child in range(2):
                nodes[size + child] = 2 * node + 2 - child
                counts[size + child] = kept
                put(lists[size + child], here[:kept])
            size += 2
            continue
        j = node - (leaves - 1)
        one = node >= whole
        first, last = (0, 1) if one else (j * n // leaves, (j + 1) * n // leaves)
        for f in range(first, last):
            if one:
                value, which = least_gauge(
                    triangles, boxes, node, placed, here, kept, exact, -np.inf, cut, room, held
                )
            else:
                value, which = held_triangle(placed, here, kept, triangles[f], exact, cut, room), f
                put(held[0], room[4])
                put(held[1], room[3])
            if value >= cut:
                continue
            if count == gauges.shape[0]:
                return count + 1
            index[count] = which
            gauges[count] = value
            put(points[count], held[0])
            put(pulls[count], held[1])
            count += 1
    return count
