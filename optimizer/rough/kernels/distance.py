"""Compiled: distances to the triangles of a tree of boxes, nearer branches first."""

import numpy as np

from optimizer.boxes.kernels.build import STACK
from optimizer.compiled import compiled


@compiled
def nearest(groups, corners, boxes):
    """For each group of points, ``groups`` (n, k, 3): the squared greatest distance of its points
    from one triangle of the tree, for the tree's triangle where this is least."""
    out = np.empty(len(groups))
    stack = np.empty(STACK, np.int64)
    gaps = np.empty(STACK)
    n, leaves = len(corners), (len(boxes) + 1) // 2
    for i in range(len(groups)):
        group = groups[i]
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
                    best = min(best, _greatest(group, corners[t], best))
                continue
            one, other = 2 * node + 1, 2 * node + 2
            near, far = _beside(group, boxes[one]), _beside(group, boxes[other])
            if near > far:
                one, other, near, far = other, one, far, near
            stack[depth], gaps[depth] = other, far
            stack[depth + 1], gaps[depth + 1] = one, near
            depth += 2
        out[i] = best
    return out


@compiled
def _greatest(group, t, enough):
    """Squared greatest distance of a group's points from a triangle; from ``enough`` on, any of the
    distances that reaches it."""
    most = _squared(group[0], t)
    for k in range(1, len(group)):
        if most < enough:
            most = max(most, _squared(group[k], t))
    return most


@compiled
def _beside(group, box):
    """Squared distance of the farthest of a group's points from a box: its lowest corner, then its
    highest."""
    most = 0.0
    for p in group:
        total = 0.0
        for k in range(3):
            gap = max(box[k] - p[k], p[k] - box[3 + k], 0.0)
            total += gap * gap
        most = max(most, total)
    return most


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
