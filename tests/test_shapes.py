"""The synthetic rough that all tests lean on is what it says."""

import numpy as np
import pytest
import shapes

from optimizer.mesh import volume
from optimizer.solid import as_solid

ALL = shapes.all_rough(3)


@pytest.mark.parametrize("kind", ALL)
def test_each_rough_is_one_closed_body_wound_outward(kind):
    solid = as_solid(ALL[kind])
    assert len(solid.decompose()) == 1
    assert solid.genus() == 0
    assert solid.volume() == pytest.approx(volume(ALL[kind]), rel=1e-12)
    assert solid.volume() > 0.0


def test_same_seed_same_mesh_other_seed_another():
    again, other = shapes.all_rough(3), shapes.all_rough(4)
    assert all(np.array_equal(ALL[k].vertices, again[k].vertices) for k in ALL)
    assert not np.array_equal(ALL["pebble"].vertices, other["pebble"].vertices)


def test_volumes_in_closed_form():
    assert volume(shapes.box((2.0, 3.0, 5.0))) == pytest.approx(30.0, rel=1e-14)
    # a V of 7 mm across the top at 7 mm from its line, 6 mm deep: half of 6 × 6, 14 mm long
    assert volume(shapes.notched((20, 14, 12), 6.0)) == pytest.approx(3360 - 18 * 14, rel=1e-12)
    assert volume(shapes.icosphere(3.0, 5)) == pytest.approx(36.0 * np.pi, rel=2e-3)


def test_dented_notched_and_bent_are_not_convex():
    for kind, least in {"dented": 1.02, "notched": 1.05, "bent": 1.5, "pebble": 1.001}.items():
        solid = as_solid(ALL[kind])
        assert solid.hull().volume() > least * solid.volume(), kind


def test_a_needle_closes_the_solid_and_has_no_volume_to_speak_of():
    ball = shapes.icosphere()
    pricked = shapes.with_needle(ball, 7, np.zeros(3), share=1e-6)
    assert len(pricked.faces) == len(ball.faces) + 8
    assert len(as_solid(pricked).decompose()) == 1
    assert 0.0 < volume(ball) - volume(pricked) < 1e-10


def test_a_hollow_has_two_shells_and_lacks_its_cavity():
    ball, bubble = shapes.icosphere(), shapes.icosphere(3.0, 1)
    solid = as_solid(shapes.hollow(ball, bubble))
    assert solid.volume() == pytest.approx(volume(ball) - volume(bubble), rel=1e-12)
    assert len(solid.decompose()) == 2


def test_motions_are_rigid_and_rotations_spread_over_all_angles():
    rng = np.random.default_rng(0)
    turns = np.array([shapes.random_rotation(rng) for _ in range(4000)])
    assert np.allclose(turns @ turns.transpose(0, 2, 1), np.eye(3), atol=1e-14)
    assert np.allclose(np.linalg.det(turns), 1.0)
    # uniform over SO(3): the mean trace is 0 and its mean square 1 (orthogonality of characters)
    traces = np.trace(turns, axis1=1, axis2=2)
    assert traces.mean() == pytest.approx(0.0, abs=0.06)
    assert (traces**2).mean() == pytest.approx(1.0, abs=0.08)
    R, t = shapes.random_motion(rng)
    laid = shapes.moved(shapes.box(), R, t)
    assert volume(laid) == pytest.approx(1000.0, rel=1e-12)
    assert np.allclose(laid.vertices.mean(axis=0), t)
