"""Balls of empty space that rest on a solid from outside, as large as they come, for the proof.

From each place outside near the surface, balls of a ladder of sizes are laid on the surface below
it. Each ball is cut down to its middle's exact distance from the surface. It is known to be empty
where it meets the ball about the place that it began from: neither passes through the surface.
"""

import numpy as np

from optimizer.mesh import Floats, Ints
from optimizer.placement.ground import Ground, grid_over, outside_places
from optimizer.placement.kernels.voids import Voids
from optimizer.rough.repair.distance import distances

LADDER = 7  # sizes of balls, each twice the last
NEAREST, FARTHEST = 1e-3, 1.5  # steps of the places' grid from the surface: where balls begin
FEET = 6  # near each cell
CELLS = 64  # of the grid of feet, along the longest side
INWARD = 1e-9  # relative allowance for rounding in a distance
TILT = 0.5  # of a place's distance from the surface, for the direction away from the surface


def no_voids() -> Voids:
    """None at all."""
    none = np.zeros((0, LADDER))
    return Voids(np.zeros((0, LADDER, 3)), none, np.zeros(3), 1.0, np.zeros((1, 1, 1, 0), np.int64))


def voids_about(ground: Ground, skin_mm: float) -> Voids:
    """The voids about a solid with the clearance ``skin_mm``, in the ground's own frame."""
    triangles = ground.surface.triangles
    _, step, _ = grid_over(triangles)
    places, apart = _beside(ground, step)
    if not len(places):
        return no_voids()
    away = _away(places, apart, triangles)
    feet = places - apart[:, None] * away
    sizes = step * 2.0 ** np.arange(LADDER)
    middles = feet[:, None] + sizes[:, None] * away[:, None]
    radii = distances(middles.reshape(-1, 3), triangles).reshape(len(feet), LADDER)
    radii *= 1.0 - INWARD
    empty = np.abs(sizes - apart[:, None]) < radii + apart[:, None]
    radii = np.where(empty, radii + skin_mm * (1.0 - INWARD), 0.0)
    return Voids(np.ascontiguousarray(middles), radii, *_feet_near(feet, triangles))


def _beside(ground: Ground, step: float) -> tuple[Floats, Floats]:
    """Places (n, 3) outside and near the surface, and at least how far from it they lie (n,)."""
    places = outside_places(ground)
    apart = distances(places, ground.surface.triangles)
    near = (apart <= FARTHEST * step) & (apart >= NEAREST * step)
    places, apart = places[near], apart[near] * (1.0 - INWARD)
    hull = ground.hull
    beyond = np.array([np.any(hull.normals @ place > hull.offsets) for place in places], bool)
    inside = [i for i in np.flatnonzero(~beyond) if ground.surface.holds(places[i])]
    return np.delete(places, inside, axis=0), np.delete(apart, inside)


def _feet_near(feet: Floats, triangles: Floats) -> tuple[Floats, float, Ints]:
    """A grid's first corner, its step, and the numbers of the feet nearest to each cell."""
    from scipy.spatial import cKDTree

    corners = triangles.reshape(-1, 3)
    reach = np.ptp(corners, axis=0)
    step = float(reach.max()) / (CELLS - 2)
    low, cells = corners.min(axis=0) - step, np.ceil(reach / step).astype(int) + 2
    middles = low + step * (np.argwhere(np.ones(cells, bool)) + 0.5)
    numbers = cKDTree(feet).query(middles, [*range(1, min(FEET, len(feet)) + 1)])[1]
    return low, step, np.ascontiguousarray(numbers.reshape(*cells, -1), np.int64)


def _away(places: Floats, apart: Floats, triangles: Floats) -> Floats:
    """Unit directions (n, 3) in which the distance from the surface grows, about."""
    moves = TILT * apart[:, None, None] * np.vstack([np.eye(3), -np.eye(3)])
    moved = distances((places[:, None] + moves).reshape(-1, 3), triangles).reshape(-1, 6)
    slopes = moved[:, :3] - moved[:, 3:]
    return np.asarray(slopes / np.maximum(np.linalg.norm(slopes, axis=1, keepdims=True), 1e-12))
