"""Compiled: which of the balls that no stone may enter are swallowed, by one stone or in a node."""

from typing import NamedTuple

import numpy as np

from optimizer.compiled import compiled
from optimizer.mesh import Floats, Ints
from optimizer.placement.kernels.node_rows import dot, facet_towards
from optimizer.placement.kernels.voids import Voids

SPREAD = 30.0  # balls over the surface, times the square of how often a node's slack goes into a
# stone: about half that slack apart
BITS = 62  # of a number that are used: none is its sign


class Room(NamedTuple):
    """What keeps a stone in."""

    normals: Floats  # (p, 3) of the hull less the clearance
    limits: Floats  # (p,)
    balls: Floats  # (n, 3) that no stone may enter
    radii: Floats  # (n,)
    first: int  # how many balls every node looks at; the others lie in no order
    voids: Voids  # that no corner enters


class Scratch(NamedTuple):
    """Arrays that are used again from node to node."""

    g: Floats  # (m, 3) facets of the middle stone
    h: Floats  # (m,)
    far_g: Floats  # (m, 3) facets of the relaxed stone
    far_h: Floats  # (m,)
    bars: Floats  # (m,) how far the box reaches along each facet
    room: Floats  # (p,) limits relative to the box's middle
    which: Ints  # (m,) numbers of facets
    row: Floats  # (7,)
    best_row: Floats  # (7,)
    near: Ints  # (n,) numbers of the balls that may be swallowed
    near_count: Ints  # (1,) how many they are
    every: Ints  # (n,) all numbers


@compiled
def _likely_facet(stone, rotation, place, point, way):
    """The facet of a stone at a pose that a point most likely lies beyond; ``way`` (3,) is used."""
    for k in range(3):
        way[k] = 0.0
        for i in range(3):
            way[k] += (point[i] - place[i]) * rotation[i, k]
    return facet_towards(stone, way[0], way[1], way[2])


@compiled
def near_balls(stone, room, node, far, scratch):
    """Put down balls that some stone of the node may swallow: False where one lies in the
    inscribed ball of every stone. Which none can swallow is marked in ``far`` (w,).

    Of the balls in no order a few are enough for a large node. Those that are far are
    kept off by one facet whatever the pose and size; a ball moves by no more than the box's half
    diagonal and its swing, a facet by what the sizes' range makes of its offset.
    """
    g, h = scratch.g, scratch.h
    swing = 2.0 * np.sin(0.5 * node.radius)
    grown = node.reach + (node.high - node.low) * stone.offsets.max()
    heart = np.empty(3)
    for k in range(3):
        heart[k] = node.middle[k] + node.low * dot(node.rotation[k], stone.heart)
    moved = node.reach + swing * node.low * np.sqrt(dot(stone.heart, stone.heart))
    within = node.low * stone.heart_radius - moved
    count, way = 0, np.empty(3)
    size = node.low / (node.reach + swing * node.low)
    for p in range(min(room.balls.shape[0], room.first + int(SPREAD * size * size) + 1)):
        word, bit = p // BITS, np.int64(1) << (p % BITS)
        if word < far.shape[0] and far[word] & bit:
            continue
        ball, radius = room.balls[p], room.radii[p]
        to_heart, to_middle = 0.0, 0.0
        for k in range(3):
            to_heart += (ball[k] - heart[k]) ** 2
            to_middle += (ball[k] - node.middle[k]) ** 2
        if np.sqrt(to_heart) < within + radius:
            return False
        limit = radius + grown + swing * np.sqrt(to_middle)
        off = False
        likely = _likely_facet(stone, node.rotation, node.middle, ball, way)
        for step in range(-1, g.shape[0]):
            i = likely if step < 0 else step
            if dot(g[i], ball) - h[i] >= limit:
                off = True
                break
        if not off:
            scratch.near[count] = p
            count += 1
        elif word < far.shape[0]:
            far[word] |= bit
    scratch.near_count[0] = count
    return True


@compiled
def _into(stone, ball, radius, rotation, facet, g, h, least):
    """How deep a ball's point reaches into {x : g·x <= h}, at the best of the ways out of a facet
    and its edges and corners: (depth, number of the way), or (``least``, -1) if none is deeper."""
    best, chosen = least, -1
    point = np.empty(3)
    for way in range(stone.first_way[facet], stone.first_way[facet + 1]):
        for k in range(3):
            point[k] = ball[k] - radius * dot(rotation[k], stone.ways[way])
        apart = dot(g[facet], point) - h[facet]
        if apart >= -best:
            continue
        for i in range(g.shape[0]):
            apart = max(apart, dot(g[i], point) - h[i])
            if apart >= -best:
                break
        if apart < -best:
            best, chosen = -apart, way
    return best, chosen


@compiled
def deepest(stone, room, numbers, place, rotation, g, h, least):
    """Of the balls of these numbers, the one of which a point reaches deepest into a stone at a
    pose, laid out as {x : g·x <= h}, more than ``least``: (number or -1, the way in which the point
    lies)."""
    best, ball, chosen, way_in = least, -1, 0, np.empty(3)
    for p in numbers:
        limit = room.radii[p] - best
        apart = -np.inf
        which = _likely_facet(stone, rotation, place, room.balls[p], way_in)
        likely = which
        for step in range(-1, g.shape[0]):
            i = likely if step < 0 else step
            value = dot(g[i], room.balls[p]) - h[i]
            if value > apart:
                apart = value
                which = i
                if apart >= limit:
                    break
        if apart < limit:  # nearer than its radius to each facet's plane: but to the stone?
            depth, way = _into(stone, room.balls[p], room.radii[p], rotation, which, g, h, best)
            if way >= 0:
                best, ball, chosen = depth, p, way
    return ball, chosen


@compiled
def depth_of(point, g, h):
    """How deep a point lies in {x : g·x <= h}; below nothing: how far it stays off."""
    apart = -np.inf
    for i in range(g.shape[0]):
        apart = max(apart, dot(g[i], point) - h[i])
    return -apart
