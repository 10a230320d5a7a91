"""Compiled rows that every stone of a node meets, for branch and bound over turns and places.

A *node* is a cell of rotations about R0, a box of places, and a range of sizes. The unknowns are
those of ``cells``: t from the box's middle, the size s, and u = 2·s·g with g the turn's axis
times the tangent of half its angle.

No stone enters a *ball*, so no point p of the ball, its middle c or any within its radius r, lies
inside a stone: at the pose (R, t, s) some facet i *keeps p off*, a_i·Rᵀ(p − t) >= s·h_i. Where a
node is small only facets that look alike can do it, and then p lies beyond one plane that dulls
them all. Which p of the ball is looked at is free; best is the one that reaches deepest, c − r·Rv
with v a way out of the stone. But p stays where it is in the scan frame: "facet i keeps p off all
stones of the node" is said of poses and p alone, and so is true of every part of the node, smaller
in turns, places or sizes. It is not true of c − r·R'v for the middle turn R' of such a part: that
is another point of the ball, which another facet may keep off. A point may be moved for as long as
nothing is known of it.
"""

from typing import NamedTuple

import numpy as np

from optimizer.compiled import compiled
from optimizer.mesh import Floats, Ints
from optimizer.placement.kernels.rows import put

TRIFLE = 1e-9  # of the size: less is no violation
STRAIGHT = 1e-12  # cosines nearer to 1 are of the same direction


class UnitStone(NamedTuple):
    """A body at size 1; its origin is the middle of the ball around it."""

    corners: Floats  # (k, 3)
    lengths: Floats  # (k,)
    facets: Floats  # (m, 3)
    offsets: Floats  # (m,)
    ways: Floats  # (w, 3) unit: out of facets, edges and corners, facet by facet
    first_way: Ints  # (m+1,) where each facet's ways begin; the first is its normal
    heart: Floats  # (3,) the middle of its inscribed ball
    heart_radius: float
    guide: Ints  # (6, d, d) the facet that a ray from the middle leaves by, over a cube's sides


class Node(NamedTuple):
    """Where and how large a stone of the node may be."""

    rotation: Floats  # (3, 3) the cell's middle
    radius: float  # radians: no rotation of the cell is farther from it
    sides: Floats  # (6, 4) the cell, as ``Cells.sides`` has it
    middle: Floats  # (3,) of the box
    half: Floats  # (3,) of the box
    reach: float  # half the box's diagonal
    low: float  # least size
    high: float  # greatest size


class StonePoint(NamedTuple):
    """A point of the scan frame, in the frame of the stone at the middle of the node."""

    place: Floats  # (3,) stone frame
    length: float
    radius: float  # how far the point may be from ``place`` in any pose of the node


@compiled(inline="always")
def dot(a, b):
    """The product of two vectors (3,); a library's costs more than the sum."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@compiled
def facet_towards(stone, x, y, z):
    """The facet by which a ray from the stone's middle leaves it, about: of all facets the one that
    a place this way most likely lies beyond."""
    ax, ay, az = abs(x), abs(y), abs(z)
    if ax >= ay and ax >= az:
        side, sign, most, p, q = 0, x, ax, y, z
    elif ay >= az:
        side, sign, most, p, q = 2, y, ay, z, x
    else:
        side, sign, most, p, q = 4, z, az, x, y
    if sign < 0.0:
        side += 1
    cells = stone.guide.shape[1]
    scale = 0.5 * cells / max(most, 1e-300)
    i = min(int((p + most) * scale), cells - 1)
    j = min(int((q + most) * scale), cells - 1)
    return stone.guide[side, i, j]


@compiled
def lay_facets(stone, rotation, place, size, g, h):
    """The facets of a stone at a pose: into normals ``g`` (m, 3) and offsets ``h`` (m,)."""
    for i in range(stone.facets.shape[0]):
        h[i] = size * stone.offsets[i]
        for k in range(3):
            g[i, k] = (
                rotation[k, 0] * stone.facets[i, 0]
                + rotation[k, 1] * stone.facets[i, 1]
                + rotation[k, 2] * stone.facets[i, 2]
            )
            h[i] += g[i, k] * place[k]


@compiled
def turned_by(rotation, u, size):
    """rotation·C(g) at u = 2·size·g (Cayley's form of a rotation)."""
    g = u / (2.0 * size)
    square = g @ g
    turn = np.zeros((3, 3))
    turn[0, 1], turn[1, 0] = -g[2], g[2]
    turn[0, 2], turn[2, 0] = g[1], -g[1]
    turn[1, 2], turn[2, 1] = -g[0], g[0]
    for i in range(3):
        for j in range(3):
            turn[i, j] = 2.0 * (turn[i, j] + g[i] * g[j])
        turn[i, i] += 1.0 - square
    return rotation @ (turn / (1.0 + square))


@compiled
def stone_point(node, point):
    """``point`` (3,) of the scan frame in the frame of the node's middle stone."""
    place = np.empty(3)
    for k in range(3):
        place[k] = 0.0
        for i in range(3):
            place[k] += (point[i] - node.middle[i]) * node.rotation[i, k]
    length = np.sqrt(dot(place, place))
    return StonePoint(place, length, node.reach + 2.0 * np.sin(0.5 * node.radius) * length)


@compiled
def separating_facets(stone, node, bars, point, which):
    """The facets that may keep a point off in some pose of the node, into ``which``: how many.

    ``bars`` (m,): how far the box reaches along each facet's normal. A point moves along a normal
    a by no more than that, sin r·|w × a| + (1 − cos r)(|w| − a·w)/2, w from anywhere in the box.
    """
    sine = np.sin(min(node.radius, 0.5 * np.pi))
    bend = 1.0 - np.cos(node.radius)
    count = 0
    for i in range(stone.facets.shape[0]):
        along = dot(stone.facets[i], point.place)
        across = np.sqrt(max(point.length * point.length - along * along, 0.0))
        most = along + bars[i] + sine * (across + node.reach)
        most += bend * (0.5 * (point.length - along) + node.reach)
        if most >= node.low * stone.offsets[i] * (1.0 - TRIFLE):
            which[count] = i
            count += 1
    return count


@compiled
def _relaxed_facet(stone, node, a, point, which, count):
    """(level, pace): a·z >= level + pace·(s − low) for every z that one of the facets keeps off.

    The least of a·z beyond one facet, within a ball about w: where the facet's plane meets the
    ball. It is convex in s, so that its tangent at the least size is below it.
    """
    level, pace = np.inf, np.inf
    for j in range(count):
        facet = stone.facets[which[j]]
        away = node.low * stone.offsets[which[j]] - dot(facet, point.place)
        cosine = min(dot(a, facet), 1.0)
        sine = np.sqrt(1.0 - cosine * cosine)
        if cosine > 1.0 - STRAIGHT:
            value, slope = away, 1.0
        elif -point.radius * cosine >= away:
            value, slope = -point.radius, 0.0
        else:
            rest = np.sqrt(max(point.radius * point.radius - away * away, 1e-18))
            value = away * cosine - sine * rest
            slope = max(0.0, min(cosine + away * sine / rest, 1.0))
        level = min(level, value)
        pace = min(pace, slope * stone.offsets[which[j]])
    return level + dot(a, point.place), pace


@compiled
def beyond_row(node, a, level, pace, point, row):
    """The row that a·z >= level + pace·(s − low) makes, and its limit.

    z = C(g)ᵀ(w − R0ᵀt) is to second order a·w − R0a·t + 2g·(a × w), with 2g = u/s for the middle
    of the sizes; the limit stands off for all that this leaves out.
    """
    w = point.place
    middle = 0.5 * (node.low + node.high)
    along = dot(a, w)
    across = np.sqrt(max(point.length * point.length - along * along, 0.0))
    tangent = 2.0 * np.tan(0.5 * node.radius)
    error = (1.0 - np.cos(node.radius)) * (0.5 * (point.length - along) + node.reach)
    error += (tangent - np.sin(node.radius)) * (across + node.reach)
    error += tangent * (node.reach + across * (node.high - node.low) / (node.high + node.low))
    for k in range(3):
        row[k] = dot(node.rotation[k], a)
    row[3] = pace
    row[4] = (a[2] * w[1] - a[1] * w[2]) / middle
    row[5] = (a[0] * w[2] - a[2] * w[0]) / middle
    row[6] = (a[1] * w[0] - a[0] * w[1]) / middle
    return along - level + pace * node.low + error


@compiled
def facet_row(stone, node, facet, point, row):
    """The row by which one facet alone keeps a point off, and its limit."""
    pace = stone.offsets[facet]
    return beyond_row(node, stone.facets[facet], pace * node.low, pace, point, row)


@compiled
def relaxed_row(stone, node, point, which, count, x, at_x, row, best_row):
    """Of the planes that dull the facets, the one that x (7,), or without ``at_x`` the node's
    middle stone, misses by most: (by how much, its limit), its row into ``best_row``."""
    best, limit = 0.0, 0.0
    mean = np.zeros(3)
    for j in range(count):
        mean += stone.facets[which[j]]
    size = np.sqrt(dot(mean, mean))
    for j in range(count + 1):
        if j == count and size < 0.1 * count:
            break
        a = stone.facets[which[j]] if j < count else mean / size
        level, pace = _relaxed_facet(stone, node, a, point, which, count)
        bound = beyond_row(node, a, level, pace, point, row)
        over = level - dot(a, point.place)
        if at_x:
            over = -bound
            for k in range(7):
                over += row[k] * x[k]
        if over > best:
            best, limit = over, bound
            put(best_row, row)
    return best, limit
