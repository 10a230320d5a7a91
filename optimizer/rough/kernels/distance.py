"""Compiled: distances to the triangles of a tree of boxes, nearer branches first."""

import numpy as np

from optimizer.boxes.kernels.build import STACK
from optimizer.compiled import compiled


@compiled
def nearest(points, corners, boxes):
    """Squared distance of each point to the nearest triangle of a tree."""
    out = np.empty(len(points))
    stack = np.empty(STACK, np.int64)
    gaps = np.empty(STACK)
    n, leaves = len(corners), (len(boxes) + 1) // 2
    for i in range(len(points)):
        p = points[i]
        best, depth = np.inf, 1
        stack[0], gaps[0] = 0, 0.0
        while depth > 0:
            depth -= 1
            node = stack[depth]
            if gaps[depth] >= best:
                continue
            if node >= leaves - 1:
                j = node - (leaves - 1)
                for t in range(j * n // leaves, (j + 1) * n // leaves):
                    best = min(best, _squared(p, corners[t]))
                continue
            one, other = 2 * node + 1, 2 * node + 2
            near, far = _beside(p, boxes[one]), _beside(p, boxes[other])
            if near > far:
                one, other, near, far = other, one, far, near
            stack[depth], gaps[depth] = other, far
            stack[depth + 1], gaps[depth + 1] = one, near
            depth += 2
        out[i] = best
    return out


@compiled
def most(triangles, corners, boxes):
    """For each triangle: the squared greatest distance of its corners from one triangle of the
    tree, for the tree's triangle where this is least."""
    out = np.empty(len(triangles))
    stack = np.empty(STACK, np.int64)
    gaps = np.empty(STACK)
    n, leaves = len(corners), (len(boxes) + 1) // 2
    for i in range(len(triangles)):
        t = triangles[i]
        best, depth = np.inf, 1
        stack[0], gaps[0] = 0, 0.0
        while depth > 0:
            depth -= 1
            node = stack[depth]
            if gaps[depth] >= best:
                continue
            if node >= leaves - 1:
                j = node - (leaves - 1)
                for s in range(j * n // leaves, (j + 1) * n // leaves):
                    most = _squared(t[0], corners[s])
                    for k in range(1, 3):
                        if most < best:
                            most = max(most, _squared(t[k], corners[s]))
                    best = min(best, most)
                continue
            one, other = 2 * node + 1, 2 * node + 2
            near, far = _all_beside(t, boxes[one]), _all_beside(t, boxes[other])
            if near > far:
                one, other, near, far = other, one, far, near
            stack[depth], gaps[depth] = other, far
            stack[depth + 1], gaps[depth + 1] = one, near
            depth += 2
        out[i] = best
    return out


@compiled
def _beside(p, box):
    """Squared distance of a point to a box: its lowest corner, then its highest."""
    total = 0.0
    for k in range(3):
        gap = max(box[k] - p[k], p[k] - box[3 + k], 0.0)
        total += gap * gap
    return total


@compiled
def _all_beside(t, box):
    """Squared distance to a box of the farthest of a triangle's corners."""
    return max(_beside(t[0], box), _beside(t[1], box), _beside(t[2], box))


@compiled
def _squared(p, t):
    """Squared distance of a point to a triangle: to its inside, else to its nearest side."""
    ux, uy, uz = t[1, 0] - t[0, 0], t[1, 1] - t[0, 1], t[1, 2] - t[0, 2]
    vx, vy, vz = t[2, 0] - t[0, 0], t[2, 1] - t[0, 1], t[2, 2] - t[0, 2]
    nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    nn = nx * nx + ny * ny + nz * nz
    within = nn > 0.0
    best = np.inf
    for k in range(3):
        a, b = t[k], t[(k + 1) % 3]
        ex, ey, ez = b[0] - a[0], b[1] - a[1], b[2] - a[2]
        px, py, pz = p[0] - a[0], p[1] - a[1], p[2] - a[2]
        ee = ex * ex + ey * ey + ez * ez
        s = min(max((px * ex + py * ey + pz * ez) / ee, 0.0), 1.0) if ee > 0.0 else 0.0
        dx, dy, dz = px - s * ex, py - s * ey, pz - s * ez
        best = min(best, dx * dx + dy * dy + dz * dz)
        side = (ny * ez - nz * ey) * px + (nz * ex - nx * ez) * py + (nx * ey - ny * ex) * pz
        within = within and side >= 0.0
    if within:
        up = nx * (p[0] - t[0, 0]) + ny * (p[1] - t[0, 1]) + nz * (p[2] - t[0, 2])
        return min(best, up * up / nn)
    return best
