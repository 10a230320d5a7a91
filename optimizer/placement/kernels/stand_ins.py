"""Compiled: a solid's moments, and the innermost points of its surface, cell by cell of a grid."""

import numpy as np

from optimizer.compiled import compiled

SPARSE = 2  # slots of the table for each cell in use: fewer, and looking up takes long
SCATTER = 0x9E3779B97F4A7C15  # odd, near 2⁶⁴ over the golden ratio: neighbours land far apart


@compiled
def moments(vertices, faces, middle):
    """Volume, first moments and second moments about ``middle`` of the solid within, (10,):
    1, x, y, z, xx, yy, zz, xy, xz, yz; by the tetrahedra between the triangles and ``middle``."""
    sums = np.zeros(10)
    t, total = np.empty((3, 3)), np.empty(3)
    for f in range(faces.shape[0]):
        for corner in range(3):
            for k in range(3):
                t[corner, k] = vertices[faces[f, corner], k] - middle[k]
        volume = (
            t[0, 0] * (t[1, 1] * t[2, 2] - t[1, 2] * t[2, 1])
            + t[0, 1] * (t[1, 2] * t[2, 0] - t[1, 0] * t[2, 2])
            + t[0, 2] * (t[1, 0] * t[2, 1] - t[1, 1] * t[2, 0])
        ) / 6.0
        sums[0] += volume
        for k in range(3):
            total[k] = t[0, k] + t[1, k] + t[2, k]
            sums[1 + k] += volume * total[k] / 4.0
            squares = t[0, k] * t[0, k] + t[1, k] * t[1, k] + t[2, k] * t[2, k]
            sums[4 + k] += volume * (total[k] * total[k] + squares) / 20.0
        place = 7
        for k in range(2):
            for j in range(k + 1, 3):
                products = t[0, k] * t[0, j] + t[1, k] * t[1, j] + t[2, k] * t[2, j]
                sums[place] += volume * (total[k] * total[j] + products) / 20.0
                place += 1
    return sums


@compiled
def surface_area(triangles):
    """Area of triangles (n, 3, 3)."""
    area = 0.0
    for f in range(triangles.shape[0]):
        x, y, z = _across(triangles[f])
        area += 0.5 * np.sqrt(x * x + y * y + z * z)
    return area


@compiled
def _across(t):
    """The normal of a triangle, twice its area long."""
    ax, ay, az = t[1, 0] - t[0, 0], t[1, 1] - t[0, 1], t[1, 2] - t[0, 2]
    bx, by, bz = t[2, 0] - t[0, 0], t[2, 1] - t[0, 1], t[2, 2] - t[0, 2]
    return ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx


@compiled
def _splits(t, spacing):
    """Into how many parts a triangle's sides are split, so that each is half a spacing at most."""
    longest = 0.0
    for corner in range(3):
        length = 0.0
        for k in range(3):
            length += (t[corner, k] - t[(corner + 1) % 3, k]) ** 2
        longest = max(longest, length)
    return max(1, int(np.ceil(2.0 * np.sqrt(longest) / spacing)))


@compiled
def _slot_of(keys, key):
    """Where a key stands in a table with open places (−1), or where it is to go."""
    mask = np.uint64(keys.shape[0] - 1)
    slot = (np.uint64(key) * np.uint64(SCATTER)) >> np.uint64(32) & mask
    while keys[slot] != key and keys[slot] != -1:
        slot = (slot + np.uint64(1)) & mask
    return np.int64(slot)


@compiled
def innermost(triangles, spacing, low, sizes, slots):
    """Of a lattice of points on every triangle, half a spacing apart at most, the innermost in
    each cell of a grid: as seen along the mean normal of what the cell holds.

    ``low`` (3,) is the grid's corner and ``sizes`` (3,) its cells. Returns (keys, points)
    in no order: the cells' numbers (c,), −1 in open places, and the points (c, 3); no keys where
    ``slots``, a power of two, are too few.
    """
    keys = np.full(slots, -1, np.int64)
    outward = np.zeros((slots, 3))
    heights = np.full(slots, np.inf)
    points = np.empty((slots, 3))
    used, last, slot = 0, -1, 0
    for again in range(2):  # first the normals, then the heights along them
        for f in range(triangles.shape[0]):
            t = triangles[f]
            n = _splits(t, spacing)
            share = 2.0 / ((n + 1) * (n + 2))
            x, y, z = _across(t)
            for i in range(n + 1):
                for j in range(n + 1 - i):
                    u, v = i / n, j / n
                    w = 1.0 - u - v
                    px = w * t[0, 0] + u * t[1, 0] + v * t[2, 0]
                    py = w * t[0, 1] + u * t[1, 1] + v * t[2, 1]
                    pz = w * t[0, 2] + u * t[1, 2] + v * t[2, 2]
                    key = np.int64((px - low[0]) / spacing)
                    key = key * sizes[1] + np.int64((py - low[1]) / spacing)
                    key = key * sizes[2] + np.int64((pz - low[2]) / spacing)
                    if key != last:
                        last, slot = key, _slot_of(keys, key)
                    if again == 0:
                        if keys[slot] == -1:
                            keys[slot] = key
                            used += 1
                            if SPARSE * used > slots:
                                return keys[:0], points[:0]
                        outward[slot, 0] += share * x
                        outward[slot, 1] += share * y
                        outward[slot, 2] += share * z
                        continue
                    height = outward[slot, 0] * px + outward[slot, 1] * py + outward[slot, 2] * pz
                    if height < heights[slot]:
                        heights[slot] = height
                        points[slot, 0], points[slot, 1], points[slot, 2] = px, py, pz
    return keys, points
