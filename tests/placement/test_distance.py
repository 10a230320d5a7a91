"""The exact clearance, against the robust kernel's least gap and closed forms."""

import numpy as np
import pytest
import shapes
from solids import body_of

from optimizer.mesh import Mesh
from optimizer.placement.containers import Surface
from optimizer.placement.distance import distance_to_surface
from optimizer.placement.model import Pose
from optimizer.solid import as_solid


def gap_by_kernel(stone, rough):
    """manifold3d's min_gap from the stone to a box less the rough."""
    low, high = rough.vertices.min(axis=0) - 5.0, rough.vertices.max(axis=0) + 5.0
    import manifold3d

    outside = manifold3d.Manifold.cube(tuple(high - low)).translate(tuple(low)) - as_solid(rough)
    return as_solid(stone).min_gap(outside, 50.0)


@pytest.mark.parametrize("name", sorted(set(shapes.all_rough()) - {"hollow"}))
def test_small_stones_anywhere_inside(name):
    rough = shapes.all_rough()[name]
    surface = Surface.of(rough)
    rng = np.random.default_rng(3)
    checked = 0
    low, high = rough.vertices.min(axis=0), rough.vertices.max(axis=0)
    for seed in range(40):
        body = body_of(shapes.random_polytope(seed, 12, 1.0))
        rotation, _ = shapes.random_motion(rng)
        pose = Pose(rng.uniform(0.3, 1.5), rotation, rng.uniform(low, high))
        found = distance_to_surface(body, pose, surface)
        if found > 0.0 and surface.holds(pose.translation):
            solid = body.mesh_at(pose.width)
            stone = Mesh(pose.to_scan(solid.vertices), solid.faces)
            assert found == pytest.approx(gap_by_kernel(stone, rough), abs=1e-9)
            checked += 1
    assert checked >= 3


def test_cube_in_a_cube():
    """Face to face, an edge towards a face, a corner towards a face: closed forms."""
    surface = Surface.of(shapes.box((10.0, 10.0, 10.0)))
    cube = body_of(shapes.box((2.0, 2.0, 2.0)))
    square = Pose(1.0, np.eye(3), np.array([2.5, 0.0, 0.0]))
    assert distance_to_surface(cube, square, surface) == pytest.approx(1.5, abs=1e-12)
    turn = np.array([[1.0, -1.0, 0.0], [1.0, 1.0, 0.0], [0.0, 0.0, 2**0.5]]) / 2**0.5
    edge = Pose(1.0, turn, np.array([2.5, 0.0, 0.0]))
    assert distance_to_surface(cube, edge, surface) == pytest.approx(2.5 - 2**0.5, abs=1e-12)


def test_a_needle_between_the_corners_is_seen():
    """One spike of three long triangles enters the stone through a facet."""
    rough = shapes.icosphere(10.0, 3)
    needled = shapes.with_needle(rough, 0, np.zeros(3) + 0.1)
    cube = body_of(shapes.box((6.0, 6.0, 6.0)))
    pose = Pose(1.0, np.eye(3), np.zeros(3))
    assert distance_to_surface(cube, pose, Surface.of(rough)) > 1.0
    assert distance_to_surface(cube, pose, Surface.of(needled)) < 0.0
