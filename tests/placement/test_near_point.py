"""The part of a surface about a point: nothing lost, nothing beyond its reach."""

import numpy as np
import pytest
import shapes

from optimizer.placement.near_point import FINE, split_about

RADIUS = 1.5


def area(triangles):
    crosses = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    return 0.5 * np.linalg.norm(crosses, axis=1).sum()


@pytest.mark.parametrize("mesh", [shapes.box((20.0, 14.0, 8.0)), shapes.pebble(3)])
def test_both_parts_make_the_whole(mesh):
    triangles = mesh.triangles
    centre = triangles[np.argmax(triangles[:, 0, 2])].mean(axis=0)
    inside, outside = split_about(triangles, centre, np.empty((0, 3)), RADIUS)
    assert area(inside) + area(outside) == pytest.approx(area(triangles), rel=1e-12)
    middles = np.linalg.norm(inside.mean(axis=1) - centre, axis=1)
    assert middles.max() <= RADIUS
    kept = np.linalg.norm(outside.mean(axis=1) - centre, axis=1)
    edges = np.linalg.norm(outside - np.roll(outside, 1, axis=1), axis=2).max(axis=1)
    assert (kept > RADIUS)[edges <= FINE * RADIUS].all()


def test_on_a_flat_it_is_a_disc():
    triangles = shapes.box((20.0, 14.0, 8.0)).triangles
    inside, _ = split_about(triangles, np.array([1.0, 2.0, 4.0]), np.empty((0, 3)), RADIUS)
    assert area(inside) == pytest.approx(np.pi * RADIUS**2, rel=0.03)
    assert np.all(inside[:, :, 2] == 4.0)


def test_neighbours_share_at_half_way():
    triangles = shapes.box((20.0, 14.0, 8.0)).triangles
    one, two = np.array([0.0, 0.0, 4.0]), np.array([1.6, 0.0, 4.0])
    first, _ = split_about(triangles, one, two[None], RADIUS)
    second, _ = split_about(triangles, two, one[None], RADIUS)
    assert first.mean(axis=1)[:, 0].max() <= 0.8 <= second.mean(axis=1)[:, 0].min() + 1e-12
    # Each is the disc less the segment beyond the line half way: r²·acos(d/r) − d·√(r² − d²).
    d = 0.8
    segment = RADIUS**2 * np.arccos(d / RADIUS) - d * np.sqrt(RADIUS**2 - d**2)
    for part in (first, second):
        assert area(part) == pytest.approx(np.pi * RADIUS**2 - segment, rel=0.05)
