"""The stand-in weighs caps nearly as the robust kernel does."""

import numpy as np
import pytest
import shapes

from optimizer.mesh import Plane, volume
from optimizer.sawing.volume_sample import sample_volume
from optimizer.solid import beyond


@pytest.mark.parametrize("kind", sorted(shapes.all_rough()))
def test_caps_weigh_what_the_robust_kernel_says(kind):
    piece = shapes.all_rough(3)[kind]
    points = sample_volume(piece)
    assert points.shares.sum() == pytest.approx(volume(piece), rel=0.02)
    rng = np.random.default_rng(5)
    for _ in range(10):
        normal = shapes.random_rotation(rng)[:, 0]
        height = piece.vertices @ normal
        plane = Plane(normal, float(np.quantile(height, rng.uniform(0.3, 0.95))))
        mine = points.shares[points.points @ normal > plane.offset].sum()
        assert mine == pytest.approx(volume(beyond(piece, plane)), abs=0.02 * volume(piece))


def test_the_hull_corners_carry_no_volume_but_give_exact_heights():
    piece = shapes.pebble(4, subdivisions=3)
    points = sample_volume(piece, count=500)
    for normal in np.eye(3):
        assert (points.points @ normal).max() == (piece.vertices @ normal).max()


def test_the_same_piece_gives_the_same_points():
    first, second = (sample_volume(shapes.pebble(2, subdivisions=3)) for _ in range(2))
    assert np.array_equal(first.points, second.points)
    assert np.array_equal(first.shares, second.shares)


def test_points_lie_inside_and_keep_their_spacing():
    points = sample_volume(shapes.box((10.0, 10.0, 10.0)), count=1000)
    inner = points.points[points.shares > 0]
    assert np.abs(inner).max() < 5.0
    assert points.spacing_mm == pytest.approx(1.0)
