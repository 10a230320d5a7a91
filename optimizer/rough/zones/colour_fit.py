"""The plane, band or ball that best divides points of two colours.

The first guess leaves least on the wrong side, among evenly spread directions or centres. Then a
smooth step across the boundary is fitted to the colours by least squares, and its width is narrowed
to that of the colours' own border. Specks of the wrong colour hardly affect this fit, unlike a fit
to border points alone.
"""

from collections.abc import Callable

import numpy as np

from optimizer.mesh import Floats, Plane, even_directions, lengths
from optimizer.rough.model import Ball, Boundary, ConvexRoom
from optimizer.rough.zones.boundary import heights

_DIRECTIONS = 600
_GRID = 11  # middles of balls along each axis
_MOST = 4_000  # points, while the direction is looked for
_MOST_NEAR = 10_000  # points, in the fit
_REACH = 4.0  # widths of the step: beyond, colours don't change any more
_NARROWER = 0.4
_NARROWEST_SHARE = 2e-3  # of the piece's longest side

Step = Callable[[Floats], Boundary]


def parting_plane(points: Floats, score: Floats, weights: Floats) -> Plane:
    """The plane that parts points (n, 3) best, its normal to those of score above 0."""
    best, state = -np.inf, np.zeros(4)
    few = _few(len(points), _MOST)
    worth = weights[few] * np.clip(score[few], -1.0, 1.0)
    for normal in even_directions(_DIRECTIONS):
        reach = points[few] @ normal
        order = np.argsort(reach)
        above = worth.sum() - 2.0 * np.cumsum(worth[order])
        k = int(np.argmax(above[:-1]))
        if above[k] > best:
            best = float(above[k])
            state = np.array([*normal, 0.5 * (reach[order[k]] + reach[order[k + 1]])])
    return _settled(_as_plane, state, points, score, weights)  # type: ignore[return-value]


def parting_band(points: Floats, score: Floats, weights: Floats) -> ConvexRoom:
    """The band that best holds the points of score above 0, with as few others as can be."""
    best, state = -np.inf, np.zeros(5)
    few = _few(len(points), _MOST)
    worth = weights[few] * np.clip(score[few], -1.0, 1.0)
    for normal in even_directions(_DIRECTIONS):
        reach = points[few] @ normal
        order = np.argsort(reach)
        run = np.concatenate([[0.0], np.cumsum(worth[order])])
        gain = run - np.minimum.accumulate(run)  # the best stretch that ends here (Kadane)
        end = int(np.argmax(gain))
        if gain[end] > best and end > 0:
            best, start = float(gain[end]), int(np.argmin(run[: end + 1]))
            state = np.array([*normal, reach[order[start]], reach[order[end - 1]]])
    return _settled(_as_band, state, points, score, weights)  # type: ignore[return-value]


def parting_ball(points: Floats, score: Floats, weights: Floats) -> Ball:
    """The ball that best holds the points of score above 0, with as few others as can be.

    Its middle is first looked for on a grid, as far out as the piece is long.
    """
    best, state = -np.inf, np.zeros(4)
    few = _few(len(points), _MOST)
    worth = weights[few] * np.clip(score[few], -1.0, 1.0)
    middle, longest = points.mean(axis=0), float(np.ptp(points, axis=0).max())
    line = np.linspace(-longest, longest, _GRID)
    for centre in middle + np.stack(np.meshgrid(line, line, line), axis=-1).reshape(-1, 3):
        reach = lengths(points[few] - centre)
        order = np.argsort(reach)
        inside = np.cumsum(worth[order])
        k = int(np.argmax(inside))
        if inside[k] > best:
            best, state = float(inside[k]), np.array([*centre, reach[order[k]]])
    return _settled(_as_ball, state, points, score, weights)  # type: ignore[return-value]


def _as_plane(state: Floats) -> Boundary:
    length = float(np.linalg.norm(state[:3]))
    return Plane(state[:3] / length, float(state[3]))


def _as_band(state: Floats) -> Boundary:
    normal = state[:3] / np.linalg.norm(state[:3])
    return ConvexRoom((Plane(normal, float(state[3])), Plane(-normal, -float(state[4]))))


def _as_ball(state: Floats) -> Boundary:
    return Ball(state[:3].copy(), float(state[3]))


def _settled(
    shape: Step, state: Floats, points: Floats, score: Floats, weights: Floats
) -> Boundary:
    """Fit tanh(height/width) to the score near the boundary, with narrower and narrower steps;
    at last the width is fitted too."""
    from scipy.optimize import least_squares

    longest = float(np.ptp(points, axis=0).max())
    width, narrowest = 0.1 * longest, _NARROWEST_SHARE * longest
    clipped = np.clip(score, -1.0, 1.0)
    while True:
        last = width * _NARROWER < narrowest
        gaps = np.abs(heights(shape(state), points))
        near = np.flatnonzero(gaps < _REACH * width)
        near = near[_few(len(near), _MOST_NEAR)]
        if len(near) < 10:
            break
        at, want, worth = points[near], clipped[near], np.sqrt(weights[near])

        def misfit(given: Floats) -> Floats:
            step = abs(given[-1]) if last else width  # noqa: B023
            return np.asarray(worth * (np.tanh(heights(shape(given), at) / step) - want))  # noqa: B023

        scale = np.concatenate([np.ones_like(state), [1.0]]) if last else np.ones_like(state)
        start = np.concatenate([state, [width]]) if last else state
        found = least_squares(misfit, start, x_scale=scale, loss="soft_l1", f_scale=0.3).x
        state = found[: len(state)]
        if last:
            break
        width *= _NARROWER
    return shape(state)


def _few(count: int, most: int) -> "np.ndarray[tuple[int], np.dtype[np.int64]]":
    """Numbers below ``count``, evenly spread, about ``most`` of them."""
    return np.arange(0, count, max(1, -(-count // most)))
