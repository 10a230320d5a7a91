"""Distances to a surface against another library, and bounds on the farthest place."""

import numpy as np
import pytest
import trimesh
from shapes import box, icosphere, pebble, scaled

from optimizer.mesh import Floats
from optimizer.rough.repair.distance import distances, farthest


def test_distances_agree_with_another_library() -> None:
    stone = pebble(3, subdivisions=2)
    points = 9.0 * np.random.default_rng(0).normal(size=(300, 3))
    plain = trimesh.Trimesh(stone.vertices, stone.faces, process=False)
    expected = trimesh.proximity.closest_point_naive(plain, points)[1]
    np.testing.assert_allclose(distances(points, stone.triangles), expected, rtol=1e-12)


def test_to_no_surface_it_is_infinitely_far() -> None:
    assert distances(np.zeros((2, 3)), np.empty((0, 3, 3))).tolist() == [np.inf, np.inf]
    assert farthest(np.empty((0, 3, 3)), box().triangles, 0.1) == 0.0


def sampled(triangles: Floats, others: Floats) -> float:
    """The greatest distance of places spread over the triangles: never above the true one."""
    shares = np.random.default_rng(1).dirichlet([0.5, 0.5, 0.5], (60, len(triangles)))
    places = np.einsum("nmk,mkd->nmd", shares, triangles).reshape(-1, 3)
    return float(distances(np.vstack([places, triangles.reshape(-1, 3)]), others).max())


@pytest.mark.parametrize("seed", range(3))
def test_the_farthest_place_is_bounded_closely(seed: int) -> None:
    ball, stone = icosphere(10.0, 2), pebble(seed, subdivisions=2)
    low = sampled(ball.triangles, stone.triangles)
    bound = farthest(ball.triangles, stone.triangles, 1e-3)
    assert low <= bound <= low + 0.1  # as far apart as the samples
    assert farthest(ball.triangles, stone.triangles, 1e-5) == pytest.approx(bound, abs=1e-3)


def test_large_triangles_cost_no_more_than_small_ones() -> None:
    """Walls of 20 km within walls of 20 km, and a needle of 1 m: to a hundredth of a micrometre."""
    outer, inner = box((2e7, 2e7, 2e7)).triangles, scaled(box((2e7, 2e7, 2e7)), 0.99).triangles
    assert farthest(outer, inner, 1e-5) == pytest.approx(1e5 * 3**0.5, rel=1e-9)
    needle = np.array([[[0.0, 0.0, 0.0], [1000.0, 1e-6, 0.0], [1000.0, 0.0, 1e-6]]])
    assert farthest(needle, box().triangles, 1e-5) == pytest.approx(995.0)


def test_a_small_budget_gives_a_looser_bound() -> None:
    ball, stone = icosphere(10.0, 2), pebble(4, subdivisions=3)
    close = farthest(ball.triangles, stone.triangles, 1e-6)
    loose = farthest(ball.triangles, stone.triangles, 1e-6, most_looks=0)
    assert close < loose < close + 5.0
