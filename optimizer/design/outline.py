"""The polygon that a girdle's facets form, seen from above, and its fit to length and width."""

import numpy as np

from optimizer.design.curves import Support
from optimizer.mesh import Floats


def corners(theta: Floats, distance: Floats) -> Floats:
    """The outline's polygon, (n, 2): corner i lies between side i and the next side.

    ``theta`` (n,) ascending azimuths of the sides in radians, ``distance`` (n,) from the axis.
    """
    after, far = np.roll(theta, -1), np.roll(distance, -1)
    turn = np.sin(after - theta)
    x = (distance * np.sin(after) - far * np.sin(theta)) / turn
    y = (far * np.cos(theta) - distance * np.cos(after)) / turn
    return np.column_stack([x, y])


def edge_lengths(theta: Floats, points: Floats) -> Floats:
    """The length of each side, (n,); negative where its neighbours cut the side away."""
    run = points - np.roll(points, 1, axis=0)
    return np.asarray(run[:, 1] * np.cos(theta) - run[:, 0] * np.sin(theta), np.float64)


def fitted(support: Support, theta: Floats, length: float, axis: float = 0.5) -> Floats:
    """Distances (n,) of sides that touch the curve, which is sized so that the polygon fits.

    The polygon is ``length`` long, ``axis`` of which lies behind the axis, at −x; along y it runs
    from −1/2 to 1/2. The size is
    found by fixed-point iteration: each round scales and shifts the curve by the polygon's misfit.
    """
    long, wide, shift = length, 1.0, 0.0
    distance = support(theta, long, wide)
    for _ in range(200):
        points = corners(theta, distance)
        low, high = points.min(axis=0), points.max(axis=0)
        out = high - low - (length, 1.0)
        middle = (high[0] + low[0]) / 2.0 - (0.5 - axis) * length
        if max(np.abs(out).max(), abs(middle)) < 4e-16:
            break
        long, wide, shift = long - out[0], wide - out[1], shift - middle
        distance = support(theta, long, wide) + shift * np.cos(theta)
    return distance
