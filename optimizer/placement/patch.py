"""Where two convex shapes touch along a direction: a point, a line or a flat, by its corners."""

import numpy as np

from optimizer.mesh import Floats, frame_about

FLAT_MM = 1e-5  # corners this near to the outermost touch with it: a climb's last step is shorter


def patch(corners: Floats, triangle: Floats, normal: Floats, point: Floats) -> Floats:
    """Corners (c, 3) of the patch along which a convex body meets a triangle, on the triangle.

    ``corners`` (k, 3) of the body, ``triangle`` (3, 3), unit ``normal`` from body to triangle,
    ``point`` (3,) of the triangle where they are known to meet. What keeps all corners of the
    patch from moving along the normal keeps the whole patch.
    """
    reach, near = corners @ normal, triangle @ normal
    body = corners[reach >= reach.max() - FLAT_MM]
    other = triangle[near <= near.min() + FLAT_MM]
    if min(np.ptp(body, axis=0).max(), np.ptp(other, axis=0).max()) <= FLAT_MM:
        return point[None]
    across = frame_about(normal)[:2]
    clipped = _clipped(_ring((body - point) @ across.T), _ring((other - point) @ across.T))
    return point + clipped @ across if len(clipped) else point[None]


def _ring(points: Floats) -> Floats:
    """Corners of a convex polygon (n, 2) counter-clockwise; of points on a line its two ends."""
    middle = points.mean(axis=0)
    spread = points - middle
    along = np.linalg.svd(spread)[2][0]
    aside = np.abs(spread @ np.array([-along[1], along[0]])).max()
    if aside <= FLAT_MM:
        reach = spread @ along
        return points[[int(np.argmin(reach)), int(np.argmax(reach))]]
    return points[np.argsort(np.arctan2(spread[:, 1], spread[:, 0]), kind="stable")]


def _clipped(ring: Floats, by: Floats) -> Floats:
    """The part of one ring within another (Sutherland and Hodgman, Reentrant polygon clipping,
    1974). A ring of two points is a thin strip about its line."""
    sides = np.roll(by, -1, axis=0) - by
    inward = np.column_stack([-sides[:, 1], sides[:, 0]])
    starts, give = by, np.full(len(by), 0.0)
    if len(by) == 2:
        inward, starts = np.vstack([inward, sides]), np.vstack([by, by])
        give = np.array([FLAT_MM, FLAT_MM, 0.0, 0.0])
    inward = inward / np.linalg.norm(inward, axis=1)[:, None]
    for start, way, more in zip(starts, inward, give, strict=True):
        height = (ring - start) @ way + more
        ring = _above(ring, height)
        if not len(ring):
            break
    return ring


def _above(ring: Floats, height: Floats) -> Floats:
    """The part of a ring where ``height`` (n,) at its corners is not negative."""
    kept = []
    for i, j in zip(range(len(ring)), np.roll(np.arange(len(ring)), -1), strict=True):
        if height[i] >= 0.0:
            kept.append(ring[i])
        if (height[i] >= 0.0) != (height[j] >= 0.0):
            share = height[i] / (height[i] - height[j])
            kept.append(ring[i] + share * (ring[j] - ring[i]))
    return np.array(kept).reshape(-1, 2)
