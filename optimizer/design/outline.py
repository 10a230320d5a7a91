"""The girdle outline seen from above: curves that girdle facets touch, and their polygon."""

from collections.abc import Callable

import numpy as np

from optimizer.mesh import Floats

Support = Callable[[Floats, float, float], Floats]


def rounded(fullness: float) -> Support:
    """The curve |x/a|^p + |y/b|^p = 1 with p = ``fullness``: an ellipse at 2, fuller above."""
    q = fullness / (fullness - 1.0)

    def support(theta: Floats, length: float, width: float) -> Floats:
        along = np.abs(length / 2.0 * np.cos(theta)) ** q
        across = np.abs(width / 2.0 * np.sin(theta)) ** q
        return np.asarray((along + across) ** (1.0 / q), np.float64)

    return support


def pear(theta: Floats, length: float, width: float) -> Floats:
    """A half circle at −x, and from its ends two arcs that meet in a point at +x.

    At width 1 the half circle is centred at x₀ = 1/2 − length/2. Each arc leaves it smoothly,
    so its radius is (length − 1/2)² + 1/4 and its centre lies straight across from x₀.
    """
    ratio = length / width
    middle = 0.5 - ratio / 2.0
    radius = (ratio - 0.5) ** 2 + 0.25
    x, y = np.cos(theta), np.abs(np.sin(theta))
    arc = middle * x + (0.5 - radius) * y + radius
    at_point = y < (radius - 0.5) / radius
    front = np.where(at_point, ratio / 2.0 * x, arc)
    return np.asarray(width * np.where(x > 0.0, front, middle * x + 0.5), np.float64)


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
