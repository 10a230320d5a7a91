"""Compiled: convex polygons cut up by a grid of square pixels."""

import numpy as np

from optimizer.compiled import compiled
from optimizer.optics.kernels.beams import area_of, clip, grown

_SHORT = 1e-9  # of half a pixel


@compiled(error_model="numpy")
def _middle(corners, count, area):
    """The polygon's centre of mass."""
    x0, y0 = corners[0, 0], corners[0, 1]
    x, y = 0.0, 0.0
    for i in range(1, count - 1):
        ax, ay = corners[i, 0] - x0, corners[i, 1] - y0
        bx, by = corners[i + 1, 0] - x0, corners[i + 1, 1] - y0
        twice = ax * by - ay * bx
        x += twice * (ax + bx)
        y += twice * (ay + by)
    return x0 + x / (6.0 * area), y0 + y / (6.0 * area)


@compiled(error_model="numpy")
def _edges(corners, count, half, edges):
    """Fill ``edges`` (k, 4) and return their number: (a, b, c) with a·x + b·y + c > 0 inside, and
    by how much that value falls at most between a pixel's middle and its rim. Edges as short as
    rounding are left out, as they have no direction."""
    found = 0
    for i in range(count):
        p, q = corners[i], corners[(i + 1) % count]
        a, b = p[1] - q[1], q[0] - p[0]
        if abs(a) + abs(b) > _SHORT * half:
            edges[found, 0], edges[found, 1] = a, b
            edges[found, 2] = -(a * p[0] + b * p[1])
            edges[found, 3] = half * (abs(a) + abs(b))
            found += 1
    return found


@compiled(error_model="numpy")
def _in_pixel(edges, count, x, y, half, part, scratch):
    """Fill ``part`` with the polygon's part in the pixel about (x, y); returns how many corners it
    has."""
    size = 4
    part[0, 0], part[0, 1], part[1, 0], part[1, 1] = x - half, y - half, x + half, y - half
    part[2, 0], part[2, 1], part[3, 0], part[3, 1] = x + half, y + half, x - half, y + half
    for i in range(count):
        a, b, c, fall = edges[i]
        here = a * x + b * y + c
        if here <= -fall:
            return 0
        if here < fall and size >= 3:
            size = clip(part, size, a, b, c, scratch)
    return size


@compiled(error_model="numpy")
def pixel_pieces(outline, outline_start, left, top, side, rows, columns):
    """The pieces that pixels cut from polygons: (region, pixel, area) (k,) each and middle (k, 2).

    Polygon r has the corners ``outline[outline_start[r]:outline_start[r + 1]]``; pixels of ``side``
    run by rows from ``left``, ``top`` to the right and down.
    """
    widest = np.diff(outline_start).max() + 5 if len(outline_start) > 1 else 5
    edges = np.empty((widest, 4))
    part, scratch = np.empty((widest + 4, 2)), np.empty((widest + 4, 2))
    region, pixel = np.empty(4096, np.int64), np.empty(4096, np.int64)
    area, middle = np.empty(4096), np.empty((4096, 2))
    half, found = side / 2.0, 0
    for r in range(len(outline_start) - 1):
        corners = outline[outline_start[r] : outline_start[r + 1]]
        count = _edges(corners, len(corners), half, edges)
        low_j = max(int(np.floor((corners[:, 0].min() - left) / side)), 0)
        high_j = min(int(np.floor((corners[:, 0].max() - left) / side)), columns - 1)
        low_i = max(int(np.floor((top - corners[:, 1].max()) / side)), 0)
        high_i = min(int(np.floor((top - corners[:, 1].min()) / side)), rows - 1)
        need = found + max(high_i - low_i + 1, 0) * max(high_j - low_j + 1, 0)
        region, pixel = grown(region, need), grown(pixel, need)
        area, middle = grown(area, need), grown(middle, need)
        for i in range(low_i, high_i + 1):
            y = top - (i + 0.5) * side
            for j in range(low_j, high_j + 1):
                x = left + (j + 0.5) * side
                size = _in_pixel(edges, count, x, y, half, part, scratch)
                here = area_of(part, size) if size >= 3 else 0.0
                if here > 0.0:
                    region[found], pixel[found], area[found] = r, i * columns + j, here
                    middle[found] = _middle(part, size, here)
                    found += 1
    return region[:found], pixel[:found], area[:found], middle[:found]
