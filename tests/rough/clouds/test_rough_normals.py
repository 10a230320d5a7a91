"""Normals of a cloud: all outwards, or all inwards, on ellipsoids, whose normals are known."""

import numpy as np
import pytest
from scipy.spatial import cKDTree

from optimizer.mesh import Floats
from optimizer.rough.clouds.normals import agreeing

COUNT = 4000


def ellipsoid(half_axes: tuple[float, float, float]) -> tuple[Floats, Floats]:
    """(points, unit normals), each (COUNT, 3)."""
    ways = np.random.default_rng(3).normal(size=(COUNT, 3))
    points = ways / np.linalg.norm(ways, axis=1)[:, None] * half_axes
    normals = points / np.square(half_axes)
    return points, normals / np.linalg.norm(normals, axis=1)[:, None]


def turned(points: Floats, normals: Floats) -> Floats | None:
    """What becomes of ``normals`` when each second one, by chance, is turned over first."""
    nearest = cKDTree(points).query(points, k=17)[1][:, 1:]
    signs = np.random.default_rng(5).choice([-1.0, 1.0], len(points))
    return agreeing(normals * signs[:, None], nearest)


@pytest.mark.parametrize("half_axes", [(10.0, 10.0, 10.0), (10.0, 8.0, 2.0), (20.0, 2.0, 2.0)])
def test_normals_turned_at_random_agree_again(half_axes: tuple[float, float, float]) -> None:
    points, normals = ellipsoid(half_axes)
    told = turned(points, normals)
    assert told is not None
    np.testing.assert_array_equal(told * np.sign(told[0] @ normals[0]), normals)


def test_nothing_is_told_of_patches_that_lie_apart() -> None:
    points, normals = ellipsoid((10.0, 10.0, 10.0))
    apart = np.concatenate([points, points + np.array([30.0, 0.0, 0.0])])
    assert turned(apart, np.vstack([normals, normals])) is None
