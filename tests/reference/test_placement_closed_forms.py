"""Largest copies with closed-form answers, and answers that must move with the piece.

Closed forms by calculation: a cube in a ball of radius r has edge 2r/√3; the largest box in an
ellipsoid with semi-axes (a, b, c) has volume 8abc/(3√3), with edges 2a/√3, 2b/√3, 2c/√3.
"""

import itertools
from functools import cache

import numpy as np
import pytest
import shapes
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer import largest_copy
from optimizer.placement.search import EFFORTS
from optimizer.solid import as_solid

CUBE = np.array(list(itertools.product([-0.5, 0.5], repeat=3)))


@pytest.fixture
def quick(monkeypatch):
    """A hollow container is searched as a convex one is."""
    monkeypatch.setitem(EFFORTS, "normal", EFFORTS["quick"])


def as_trimesh(mesh):
    return trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)


def test_cube_in_a_ball():
    """The mesh lies inside the ball and holds a ball smaller by its faces' sag: both bound it."""
    radius = 10.0
    ball = shapes.icosphere(radius, 4)
    inscribed = (ball.triangles.mean(axis=1) ** 2).sum(axis=1).min() ** 0.5
    scale = largest_copy(CUBE, as_trimesh(ball)).scale
    assert scale <= 2.0 * radius / 3**0.5
    assert scale >= 2.0 * inscribed / 3**0.5
    assert scale == pytest.approx(2.0 * radius / 3**0.5, rel=2e-3)


def test_box_in_an_ellipsoid():
    semi = np.array([12.0, 9.0, 7.0])
    box = CUBE * semi * 2.0 / 3**0.5  # the best box, at scale 1
    ball = shapes.icosphere(1.0, 4)
    inscribed = (ball.triangles.mean(axis=1) ** 2).sum(axis=1).min() ** 0.5
    fit = largest_copy(box, as_trimesh(shapes.ellipsoid(tuple(semi), 4)))
    assert inscribed * (1.0 - 1e-9) <= fit.scale <= 1.0  # the best box just fits the inner ball
    volume = fit.scale**3 * np.prod(np.ptp(box, axis=0))
    assert volume == pytest.approx(8.0 * semi.prod() / (3.0 * 3**0.5), rel=6e-3)


def test_a_cube_in_a_notched_block_lies_wholly_in_it(quick):
    """A V 6 mm deep across the middle: the slab below it alone would give a cube of 6 mm."""
    rough = shapes.notched((20.0, 14.0, 12.0), 6.0)
    fit = largest_copy(CUBE, as_trimesh(rough))
    cube = shapes.hull(fit.translation + fit.scale * CUBE @ fit.rotation.T)
    assert (as_solid(cube) - as_solid(rough)).volume() < 1e-9 * fit.scale**3
    assert fit.scale > 6.5


@cache
def at_home():
    """A polytope, one to lie in it, and the largest copy there."""
    rough, inner = shapes.random_polytope(5), shapes.random_polytope(6, 12)
    return rough, inner, largest_copy(inner.vertices, as_trimesh(rough))


@given(st.integers(0, 10_000), st.floats(0.05, 20.0))
@settings(max_examples=4)
def test_convex_search_moves_with_the_piece(seed, factor):
    rough, inner, home = at_home()
    rotation, translation = shapes.random_motion(np.random.default_rng(seed))
    moved = shapes.moved(shapes.scaled(rough, factor), rotation, translation)
    away = largest_copy(inner.vertices, as_trimesh(moved))
    assert away.scale == pytest.approx(factor * home.scale, rel=1e-6)


def test_concave_search_moves_with_the_piece(quick):
    """At quick effort, the piece at home and twice away."""
    rough, inner = shapes.dented(2, subdivisions=2), shapes.random_polytope(6, 12)
    home = largest_copy(inner.vertices, as_trimesh(rough))
    for seed in (1, 2):
        rotation, translation = shapes.random_motion(np.random.default_rng(seed))
        away = largest_copy(inner.vertices, as_trimesh(shapes.moved(rough, rotation, translation)))
        assert away.scale == pytest.approx(home.scale, rel=5e-3)
