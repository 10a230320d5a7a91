"""Compiled rows that keep a stone's corners out of voids, for branch and bound.

A *void* is a ball of empty space beside the rough, the clearance about it included. No corner of a
stone lies in one. Where a corner can be anywhere within a small ball about m, what a large void
leaves of that ball lies beyond one plane, so that a corner needs no choice of facets, and the row
is as good as one of the hull: second order in the size of the node.
"""

from typing import NamedTuple

import numpy as np

from optimizer.compiled import compiled
from optimizer.mesh import Floats, Ints
from optimizer.placement.kernels.cells import hold_corner
from optimizer.placement.kernels.node_program import AT_ONCE, take_row
from optimizer.placement.kernels.node_rows import TRIFLE, dot

LOOSE = 0.3  # of the farthest corner's distance: where corners move by more, voids hold little
LEAST_LEVER = 1e-3  # of a void's radius: nearer to its middle a direction out of it means nothing


class Voids(NamedTuple):
    """Voids, by the feet where they rest on the surface, and which feet are near a place."""

    middles: Floats  # (f, v, 3)
    radii: Floats  # (f, v); 0 where there is none
    low: Floats  # (3,) of a grid over the rough
    step: float
    near: Ints  # (x, y, z, k) feet near each of the grid's cells


@compiled
def _cell_of(voids, place, k):
    """Number along axis k of the grid's cell that is nearest to a place."""
    number = int((place[k] - voids.low[k]) / voids.step)
    return max(0, min(number, voids.near.shape[k] - 1))


@compiled
def _plane_beyond(middle, radius, m, spread, n):
    """(level, lever): n·(x − middle) >= level for each x outside the void and within ``spread`` of
    m; the unit n from the void's middle to m, the lever long, is put down.

    spread² >= |x − m|² = |x − middle|² − 2 lever n·(x − middle) + lever², where |x − middle| is
    the radius or more.
    """
    for k in range(3):
        n[k] = m[k] - middle[k]
    lever = np.sqrt(dot(n, n))
    if lever < LEAST_LEVER * radius:
        return -np.inf, lever
    for k in range(3):
        n[k] /= lever
    return (lever * lever + radius * radius - spread * spread) / (2.0 * lever), lever


@compiled
def _best_void(voids, place, m, spread, n, best_n):
    """(by how much a corner at ``place`` is short of the plane of a void that it misses by most,
    the plane's offset, whether some void holds all of the places where the corner may be)."""
    short, offset = 0.0, 0.0
    x, y, z = _cell_of(voids, place, 0), _cell_of(voids, place, 1), _cell_of(voids, place, 2)
    for foot in voids.near[x, y, z]:
        for v in range(voids.radii.shape[1]):
            radius = voids.radii[foot, v]
            if radius <= 0.0:
                continue
            middle = voids.middles[foot, v]
            level, lever = _plane_beyond(middle, radius, m, spread, n)
            if radius > lever + spread:
                return short, offset, True
            over = level
            for k in range(3):
                over -= n[k] * (place[k] - middle[k])
            if over > short:
                short, offset = over, level + dot(n, middle)
                for k in range(3):
                    best_n[k] = n[k]
    return short, offset, False


@compiled
def keep_corners_out(stone, voids, node, program, place, rotation, size, row):
    """Take in rows of voids that the corners of a stone at a pose miss by most: how many, or -1
    where some corner can't be kept out anywhere in the node."""
    count, taken = stone.corners.shape[0], 0
    if voids.near.shape[3] == 0:
        return taken
    swing, mean = 2.0 * np.sin(0.5 * node.radius), 0.5 * (node.low + node.high)
    if node.reach > (LOOSE - swing) * node.high * stone.lengths.max():
        return taken
    short, offset, ways = np.empty(count), np.empty(count), np.empty((count, 3))
    at, m, n = np.empty(3), np.empty(3), np.empty(3)
    for c in range(count):
        for k in range(3):
            at[k] = place[k] + size * dot(rotation[k], stone.corners[c])
            m[k] = node.middle[k] + mean * dot(node.rotation[k], stone.corners[c])
        spread = (0.5 * (node.high - node.low) + swing * node.high) * stone.lengths[c] + node.reach
        short[c], offset[c], lost = _best_void(voids, at, m, spread, n, ways[c])
        if lost:
            return -1
    worst = max(short.max(), 2.0 * TRIFLE * node.high)
    for c in range(count):
        if short[c] >= 0.5 * worst and taken < AT_ONCE:
            _corner_row(stone, node, c, ways[c], offset[c], program, row)
            taken += 1
    return taken


@compiled
def _corner_row(stone, node, c, way, offset, program, row):
    """Take in the row that keeps a corner beyond a plane: {x : way·x >= offset}."""
    bend, skew = 1.0 - np.cos(node.radius), 2.0 * np.tan(0.5 * node.radius) - np.sin(node.radius)
    inward = np.empty(3)
    for k in range(3):
        inward[k] = 0.0
        for i in range(3):
            inward[k] -= way[i] * node.rotation[i, k]
        row[k] = -way[k]
    hold_corner(inward, stone.corners[c], stone.lengths[c], bend, skew, row)
    take_row(program, row, dot(way, node.middle) - offset)
