"""Round skin: the exact distance between a growing body and a triangle, and gauges built on it."""

import manifold3d
import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize
from solids import body_of

from optimizer.mesh import Mesh
from optimizer.placement.containers import Surface
from optimizer.placement.growing import growing_by_width
from optimizer.placement.kernels.nearest import direction_between, grown_to
from optimizer.placement.model import Pose
from optimizer.placement.situation import Situation
from optimizer.solid import as_solid

seeds = st.integers(0, 2**32 - 1)


def apart(corners, triangle, normal):
    """How far body and triangle are apart along a direction: never more than their distance."""
    return (triangle @ normal).min() - (corners @ normal).max()


def case(seed):
    """A body about the origin and a triangle clear of it."""
    rng = np.random.default_rng(seed)
    corners = shapes.random_polytope(seed, 16, 1.0).vertices
    middle = shapes.random_rotation(rng)[:, 0] * rng.uniform(1.5, 4.0)
    size = rng.choice([0.05, 0.5, 3.0])
    triangle = middle + size * rng.normal(size=(3, 3))
    height = triangle @ middle / np.linalg.norm(middle)
    triangle += np.outer(np.maximum(1.2 - height, 0.0), middle / np.linalg.norm(middle))
    return corners, triangle, middle / np.linalg.norm(middle)


@given(seeds)
def test_the_direction_found_is_the_best_and_reaches_the_distance(seed):
    """Primal and dual meet: the nearest points are as far apart as the supports."""
    corners, triangle, guess = case(seed)
    normal, point = guess.copy(), np.zeros(3)
    direction_between(corners, triangle, normal, point)
    gap = apart(corners, triangle, normal)
    assert np.linalg.norm(normal) == pytest.approx(1.0, abs=1e-12)
    weights = minimize(
        lambda w: float(np.sum((w @ triangle - point) ** 2)), np.full(3, 1 / 3),
        bounds=[(0, 1)] * 3, constraints={"type": "eq", "fun": lambda w: w.sum() - 1.0},
        tol=1e-14,
    ).x  # fmt: skip
    assert np.linalg.norm(weights @ triangle - point) == pytest.approx(gap, abs=1e-5)
    assert (corners @ normal).max() == pytest.approx(point @ normal, abs=1e-9)
    rng = np.random.default_rng(seed)
    for other in rng.normal(size=(50, 3)) * 0.1 + normal:
        assert apart(corners, triangle, other / np.linalg.norm(other)) <= gap + 1e-10


@given(seeds, st.floats(0.01, 0.3), st.floats(0.0, 0.2))
def test_a_body_grown_to_a_triangle_keeps_just_its_margin(seed, margin, margin_pace):
    corners, triangle, guess = case(seed)
    pull, point = guess.copy(), np.zeros(3)
    base = np.zeros_like(corners)
    sigma = grown_to(base, corners, margin, margin_pace, triangle, 0.05, np.inf, pull, point)
    normal, nearest = pull / np.linalg.norm(pull), np.zeros(3)
    direction_between(corners * sigma, triangle, normal, nearest)
    gap = apart(corners * sigma, triangle, normal)
    assert gap == pytest.approx(margin + margin_pace * sigma, abs=1e-9)
    # The pull foretells what a small move of the triangle gives.
    move = np.random.default_rng(seed).normal(size=3) * 1e-5
    moved = grown_to(
        base, corners, margin, margin_pace, triangle + move, 0.05, np.inf, guess.copy(), point
    )
    assert moved - sigma == pytest.approx(pull @ move, abs=1e-7)


def outside(rough):
    low, high = rough.vertices.min(axis=0) - 5.0, rough.vertices.max(axis=0) + 5.0
    return manifold3d.Manifold.cube(tuple(high - low)).translate(tuple(low)) - as_solid(rough)


@pytest.mark.parametrize("name", sorted(set(shapes.all_rough()) - {"hollow"}))
def test_at_its_gauge_a_stone_keeps_exactly_its_skin(name):
    """Against the robust kernel's least gap; the square gauge is never larger."""
    rough = shapes.all_rough()[name]
    surface, beyond = Surface.of(rough), outside(rough)
    square = Surface(surface.triangles, surface.boxes, square=True)
    rng = np.random.default_rng(2)
    low, high = rough.vertices.min(axis=0), rough.vertices.max(axis=0)
    checked = 0
    while checked < 6:
        body = body_of(shapes.random_polytope(checked, 14, 1.0))
        rotation, place = shapes.random_rotation(rng), rng.uniform(low, high)
        growing = growing_by_width(body, 0.25, 0.0)
        width = surface.gauge(Situation(growing, rotation, place), -np.inf)
        if width < 0.1 or not surface.holds(place):
            continue
        solid = body.mesh_at(width)
        stone = Mesh(Pose(1.0, rotation, place).to_scan(solid.vertices), solid.faces)
        assert as_solid(stone).min_gap(beyond, 5.0) == pytest.approx(0.25, abs=1e-9)
        assert square.gauge(Situation(growing, rotation, place), -np.inf) <= width + 1e-12
        checked += 1
