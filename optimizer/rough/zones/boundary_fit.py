"""Boundaries through places marked on them, by least squares of the distances."""

from collections.abc import Callable

import numpy as np

from optimizer.mesh import Floats, Plane, frame_about, lengths
from optimizer.rough.model import Ball, BentSheet, Boundary, BoundaryFit, ConvexRoom
from optimizer.rough.zones.boundary import heights

FEWEST = {"plane": 3, "band": 2, "ball": 4, "bent sheet": 6}  # places; of a band on either side
LEAST_SPREAD = 0.02  # width over length of the places' spread: narrower places count as a line
_ROUNDS = 60
_SETTLED = 1e-12


def fit_of(
    boundary: Boundary, points: Floats, spare: int, source: str = "marked places"
) -> BoundaryFit:
    """How far ``points`` (n, 3), meant to lie on the boundary, lie off it."""
    gaps = distances(boundary, points)
    return BoundaryFit(
        source, len(points), float(np.sqrt((gaps**2).mean())), float(gaps.max()), spare
    )


def distances(boundary: Boundary, points: Floats) -> Floats:
    """Distances (n,) from the boundary's surface; of a corner, from the nearest of its planes."""
    if isinstance(boundary, ConvexRoom):
        return np.asarray(np.min([np.abs(heights(p, points)) for p in boundary.planes], axis=0))
    return np.abs(heights(boundary, points))


def fitted_plane(points: Floats) -> Plane:
    """The plane nearest to points (n, 3), n >= 3, with either normal.

    Raises ValueError where they are too few or lie on a line.
    """
    _enough(points, "plane")
    return Plane.through(points.mean(axis=0), _normal_of(points - points.mean(axis=0)))


def fitted_band(near: Floats, far: Floats) -> ConvexRoom:
    """The band between two parallel planes nearest to points (n, 3) and (m, 3).

    Raises ValueError where they are too few, lie on a line, or the two planes on each other.
    """
    for points in (near, far):
        _enough(points, "band")
    normal = _normal_of(np.vstack([near - near.mean(axis=0), far - far.mean(axis=0)]))
    low, high = sorted([float(normal @ near.mean(axis=0)), float(normal @ far.mean(axis=0))])
    if high - low <= 1e-6 * float(np.ptp(np.vstack([near, far]), axis=0).max()):
        raise ValueError("mark both sides of the band at one level: it has no thickness")
    return ConvexRoom((Plane(normal, low), Plane(-normal, -high)))


def fitted_ball(points: Floats) -> Ball:
    """The ball whose surface is nearest to points (n, 3), n >= 4.

    Starts from the algebraic fit, which is linear, and settles by Gauss-Newton steps.
    Raises ValueError where the points are too few or lie flat.
    """
    _enough(points, "ball")
    middle = points.mean(axis=0)
    local = points - middle
    terms = np.column_stack([2.0 * local, np.ones(len(local))])
    spread = np.linalg.svd(local, compute_uv=False)
    if spread[2] < 1e-6 * spread[0]:
        raise ValueError("lie in one plane: no ball can be told from them; mark more places")
    found = np.linalg.lstsq(terms, (local**2).sum(axis=1), rcond=None)[0]
    centre, radius = found[:3], float(np.sqrt(max(found[3] + found[:3] @ found[:3], 0.0)))

    def step(state: Floats) -> tuple[Floats, Floats]:
        away = local - state[:3]
        far = np.maximum(lengths(away), 1e-12)
        return far - state[3], np.column_stack([-away / far[:, None], -np.ones(len(local))])

    settled = _settle(np.array([*centre, radius]), step)
    return Ball(settled[:3] + middle, float(settled[3]))


def fitted_bent(points: Floats) -> BentSheet:
    """The evenly bent sheet nearest to points (n, 3), n >= 6, seen along their middle's normal.

    Heights over the plane are fitted to second degree, then over the tangent plane at the middle,
    until that is the plane itself. Raises ValueError where the points are too few or badly spread.
    """
    _enough(points, "bent sheet")
    middle = points.mean(axis=0)
    frame = _frame_on(_normal_of(points - middle))
    for _ in range(_ROUNDS):
        u, v, w = ((points - middle) @ frame.T).T
        size = float(max(np.ptp(u), np.ptp(v)))
        a, b = u / size, v / size
        terms = np.column_stack([np.ones_like(a), a, b, a * a, a * b, b * b])
        if np.linalg.cond(terms) > 1e4:
            raise ValueError("lie badly for a bent sheet: spread them over the whole boundary")
        c = np.linalg.lstsq(terms, w, rcond=None)[0]
        middle = middle + c[0] * frame[2]
        tilt = c[1:3] / size
        frame = _frame_on(frame[2] - tilt[0] * frame[0] - tilt[1] * frame[1])
        if abs(c[0]) <= _SETTLED * size and np.abs(tilt).max() <= _SETTLED:
            break
    twice = np.array([[2.0 * c[3], c[4]], [c[4], 2.0 * c[5]]]) / size**2
    bend, turn = np.linalg.eigh(twice)
    across = turn.T @ frame[:2]
    return BentSheet(middle, np.array([across[0], np.cross(frame[2], across[0]), frame[2]]), bend)


def _enough(points: Floats, kind: str) -> None:
    if len(points) < FEWEST[kind]:
        side = " on either side" if kind == "band" else ""
        raise ValueError(f"are too few for a {kind}: mark at least {FEWEST[kind]}{side}")


def _normal_of(centred: Floats) -> Floats:
    """The direction in which points about their middles spread least.

    Raises ValueError where they lie near one line.
    """
    _, spread, ways = np.linalg.svd(centred, full_matrices=False)
    if len(spread) < 2 or spread[1] < LEAST_SPREAD * spread[0] or spread[0] == 0.0:
        raise ValueError(
            "has its points nearly on one line: spread them over the boundary, or mark more"
        )
    if len(ways) < 3:
        return np.asarray(np.cross(ways[0], ways[1]))
    return np.asarray(ways[2])


def _settle(state: Floats, step: Callable[[Floats], tuple[Floats, Floats]]) -> Floats:
    """Gauss-Newton: ``step`` gives the misfits (n,) and how they change (n, p)."""
    for _ in range(_ROUNDS):
        misfit, slopes = step(state)
        change = np.linalg.lstsq(slopes, misfit, rcond=None)[0]
        state = state - change
        if np.abs(change).max() <= _SETTLED * max(1.0, float(np.abs(state).max())):
            break
    return state


def _frame_on(normal: Floats) -> Floats:
    """``frame_about`` a normal of any length."""
    return frame_about(normal / np.linalg.norm(normal))
