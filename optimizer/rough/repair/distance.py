"""How far points lie from a surface."""

import numpy as np

from optimizer.compiled import compiled
from optimizer.mesh import Floats, lengths


def distances(points: Floats, triangles: Floats) -> Floats:
    """Distance (n,) of each point (n, 3) to the nearest of triangles (m, 3, 3).

    Every triangle that may be nearest is tried: those within reach of a corner known to be near.
    """
    from scipy.spatial import cKDTree

    if not len(points) or not len(triangles):
        return np.full(len(points), np.inf)
    reach = cKDTree(triangles.reshape(-1, 3)).query(points)[0]
    low, high = points.min(axis=0) - reach.max(), points.max(axis=0) + reach.max()
    near = (triangles.min(axis=1) <= high).all(axis=1) & (triangles.max(axis=1) >= low).all(axis=1)
    return np.asarray(_nearest(np.ascontiguousarray(points), triangles[near], reach**2))


def farthest(triangles: Floats, others: Floats, tolerance: float) -> float:
    """A bound within ``tolerance`` of the greatest distance of any place on ``triangles`` (m, 3, 3)
    to the nearest of ``others``: parts that may hold it are quartered until it is that sharp."""
    found = 0.0
    while len(triangles):
        middles = triangles.mean(axis=1)
        reach = lengths(triangles - middles[:, None]).max(axis=1)
        gap = distances(middles, others)
        found = max(found, float(gap.max()))
        triangles = _quartered(triangles[gap + reach > found + tolerance])
    return found + tolerance


def _quartered(triangles: Floats) -> Floats:
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    ab, bc, ca = (a + b) / 2.0, (b + c) / 2.0, (c + a) / 2.0
    quarters = [(a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca)]
    return np.concatenate([np.stack(quarter, axis=1) for quarter in quarters])


@compiled
def _nearest(points, triangles, start):  # type: ignore[no-untyped-def]
    out = np.empty(len(points))
    for i in range(len(points)):
        best = start[i]
        p = points[i]
        for t in range(len(triangles)):
            gap = 0.0
            for k in range(3):
                low = min(triangles[t, 0, k], triangles[t, 1, k], triangles[t, 2, k])
                high = max(triangles[t, 0, k], triangles[t, 1, k], triangles[t, 2, k])
                beside = max(low - p[k], p[k] - high, 0.0)
                gap += beside * beside
            if gap < best:
                best = min(best, _squared(p, triangles[t]))
        out[i] = np.sqrt(best)
    return out


@compiled
def _squared(p, t):  # type: ignore[no-untyped-def]
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
