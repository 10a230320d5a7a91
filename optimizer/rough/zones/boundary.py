"""Heights over a colour boundary: how far a place lies on the side of the named colour."""

from itertools import combinations

import numpy as np

from optimizer.mesh import Floats, Plane, lengths
from optimizer.rough.model import PARALLEL, Ball, BentSheet, Boundary, ConvexRoom


def heights(boundary: Boundary, points: Floats) -> Floats:
    """Distances in mm (n,) of ``points`` (n, 3) from the boundary, positive towards its colour.

    The distances are exact for planes, balls and points inside a corner or band; outside, near the
    edge of two planes, they are a little too small. From a bent sheet they are correct to first
    order (Taubin 1991, Estimation of planar curves, surfaces, and nonplanar space curves): exact in
    sign, and good in size for points that are near compared with 1/bend.
    """
    match boundary:
        case Plane():
            return np.asarray(points @ boundary.normal - boundary.offset)
        case ConvexRoom():
            each = [heights(plane, points) for plane in boundary.planes]
            return np.asarray(np.min(each, axis=0))
        case Ball():
            return np.asarray(boundary.radius_mm - lengths(points - boundary.centre))
        case BentSheet():
            above, slope = _above(boundary, points)
            return np.asarray(above / np.sqrt(1.0 + (slope**2).sum(axis=1)))


def normals(boundary: Boundary, points: Floats) -> Floats:
    """Unit directions (n, 3) towards the colour at the place of the boundary near each point."""
    match boundary:
        case Plane():
            return np.tile(boundary.normal, (len(points), 1))
        case ConvexRoom():
            each = np.array([heights(plane, points) for plane in boundary.planes])
            every = np.array([plane.normal for plane in boundary.planes])
            return np.asarray(every[np.argmin(each, axis=0)])
        case Ball():
            inwards = boundary.centre - points
        case BentSheet():
            _, slope = _above(boundary, points)
            inwards = np.column_stack([-slope, np.ones(len(points))]) @ boundary.frame
    return np.asarray(inwards / lengths(inwards)[:, None])


def empty(walled: ConvexRoom) -> bool:
    """Whether two walls that are parallel leave no room between them."""
    pairs = combinations(walled.planes, 2)
    return any(
        one.normal @ two.normal < -PARALLEL and one.offset + two.offset >= 0.0 for one, two in pairs
    )


def _above(bent: BentSheet, points: Floats) -> tuple[Floats, Floats]:
    """(height above the sheet along its axis (n,), the sheet's slope there (n, 2))."""
    u, v, w = ((points - bent.middle) @ bent.frame.T).T
    slope = np.column_stack([bent.bend[0] * u, bent.bend[1] * v])
    return w - 0.5 * (slope[:, 0] * u + slope[:, 1] * v), slope
