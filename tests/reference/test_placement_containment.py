"""Exact containment against a robust boolean kernel, and gauges that move with the piece.

The kernel is manifold3d: its booleans are guaranteed manifold, and its least gap was itself held
against brute force over all pairs (test_containment_reference).
"""

import manifold3d
import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st
from solids import body_of

from optimizer.mesh import Mesh
from optimizer.placement.containers import Surface
from optimizer.placement.growing import growing_by_width
from optimizer.placement.model import Pose
from optimizer.placement.situation import Situation
from optimizer.solid import as_solid

NAMES = sorted(set(shapes.all_rough()) - {"hollow"})
SURFACES = {name: Surface.of(mesh) for name, mesh in shapes.all_rough().items()}


def fits(surface, body, pose):
    """Containment by the gauge: the centre is inside, and the surface is reached no earlier."""
    growing = growing_by_width(body, 0.0, 0.0)
    gauge = surface.gauge(Situation(growing, pose.rotation, pose.translation), -np.inf)
    return gauge >= pose.width and surface.holds(pose.translation)


def sticks_out(rough, body, pose):
    """Volume of the stone outside the rough, by the robust kernel."""
    solid = body.mesh_at(pose.width)
    stone = Mesh(pose.to_scan(solid.vertices), solid.faces)
    return (as_solid(stone) - as_solid(rough)).volume()


@pytest.mark.parametrize("name", NAMES)
def test_random_placements_are_judged_as_the_kernel_does(name):
    rough, surface = shapes.all_rough()[name], SURFACES[name]
    rng = np.random.default_rng(7)
    low, high = rough.vertices.min(axis=0), rough.vertices.max(axis=0)
    verdicts = []
    for seed in range(60):
        body = body_of(shapes.random_polytope(seed, 12, 1.0))
        pose = Pose(rng.uniform(0.3, 4.0), shapes.random_rotation(rng), rng.uniform(low, high))
        outside = sticks_out(rough, body, pose)
        verdict = fits(surface, body, pose)
        verdicts.append(verdict)
        assert verdict == (outside <= 1e-12)
    assert 0 < sum(verdicts) < 60


@pytest.mark.parametrize("name", NAMES)
def test_a_stone_at_its_gauge_just_touches(name):
    """A millionth smaller it is free of the surface, a millionth larger it is not."""
    rough, surface = shapes.all_rough()[name], SURFACES[name]
    low, high = rough.vertices.min(axis=0), rough.vertices.max(axis=0)
    room = manifold3d.Manifold.cube(tuple(high - low + 10.0)).translate(tuple(low - 5.0))
    outside = room - as_solid(rough)
    rng = np.random.default_rng(11)
    checked = 0
    while checked < 5:
        body = body_of(shapes.random_polytope(checked, 14, 1.0))
        rotation, place = shapes.random_rotation(rng), rng.uniform(low, high)
        if not surface.holds(place):
            continue
        width = surface.gauge(Situation(growing_by_width(body, 0.0, 0.0), rotation, place), -np.inf)
        for factor, free in ((1.0 - 1e-6, True), (1.0 + 1e-6, False)):
            solid = body.mesh_at(width * factor)
            stone = as_solid(Mesh(Pose(1.0, rotation, place).to_scan(solid.vertices), solid.faces))
            assert (stone.min_gap(outside, 1.0) > 0.0) == free
        checked += 1


def test_a_needle_between_the_corners_is_seen():
    """One spike of three long thin triangles: no corner of the stone is near, no volume is lost."""
    rough = shapes.icosphere(10.0, 3)
    needled = shapes.with_needle(rough, 0, np.array([0.1, 0.1, 0.1]))
    body = body_of(shapes.box((2.0, 2.0, 2.0)))
    pose = Pose(3.0, np.eye(3), np.zeros(3))
    assert fits(Surface.of(rough), body, pose)
    assert not fits(Surface.of(needled), body, pose)
    assert sticks_out(needled, body, pose) < 1e-3


@given(st.integers(0, 10_000), st.sampled_from(NAMES), st.floats(0.01, 100.0), st.floats(0.0, 0.5))
def test_the_gauge_moves_with_piece_and_unit(seed, name, factor, skin):
    rng = np.random.default_rng(seed)
    rough = shapes.all_rough()[name]
    body = body_of(shapes.random_polytope(seed, 12, 1.0))
    rotation, place = shapes.random_rotation(rng), rough.vertices.mean(axis=0)
    turn, shift = shapes.random_motion(rng)

    def gauge(mesh, at, where, margin):
        growing = growing_by_width(body, margin, 0.0)
        return Surface.of(mesh).gauge(Situation(growing, np.ascontiguousarray(at), where), -np.inf)

    home = gauge(rough, rotation, place, skin)
    moved = gauge(shapes.moved(rough, turn, shift), turn @ rotation, turn @ place + shift, skin)
    assert moved == pytest.approx(home, rel=1e-9, abs=1e-9)
    larger = gauge(shapes.scaled(rough, factor), rotation, place * factor, skin * factor)
    assert larger == pytest.approx(home * factor, rel=1e-9, abs=1e-9)
