"""The compiled kernels against slow, obvious ways to the same numbers."""

import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st
from ortools.linear_solver import pywraplp
from scipy.optimize import linprog
from solids import body_of, placed_facets

from optimizer.placement import kernels
from optimizer.placement.containers import Surface
from optimizer.placement.growth import growing_by_width
from optimizer.placement.linear import best_step

seeds = st.integers(0, 2**32 - 1)


def slow_gauge(g, h, triangle):
    """Least over a triangle of the greatest facet value, by a general LP solver."""
    values = triangle @ g.T - h
    rows = np.column_stack([values.T, -np.ones(len(h))])
    answer = linprog([0, 0, 0, 1], A_ub=rows, b_ub=np.zeros(len(h)), A_eq=[[1, 1, 1, 0]], b_eq=[1],
                     bounds=[(0, None)] * 3 + [(None, None)])  # fmt: skip
    assert answer.status == 0
    return answer.fun


def random_case(seed):
    rng = np.random.default_rng(seed)
    body = body_of(shapes.random_polytope(seed, corners=14, radius=1.0))
    rotation, translation = shapes.random_motion(rng, 0.5)
    return rng, *placed_facets(growing_by_width(body, 0.1, 0.0).growths[0], rotation, translation)


@given(seeds)
def test_triangle_gauge_is_the_linear_program_s_value(seed):
    rng, g, h = random_case(seed)
    triangle = rng.normal(size=(3, 3)) * 2.0
    weights, shares = np.empty(3), np.empty(len(h))
    value = kernels.triangle_gauge(g, h, triangle, np.inf, np.inf, weights, shares)
    assert value == pytest.approx(slow_gauge(g, h, triangle), abs=1e-9)
    point = weights @ triangle
    assert (g @ point - h).max() == pytest.approx(value, abs=1e-9)
    assert weights.min() >= -1e-15
    assert weights.sum() == pytest.approx(1.0, abs=1e-12)
    assert shares.min() >= -1e-12
    assert shares.sum() == pytest.approx(1.0, abs=1e-9)
    # The multipliers' own bound is the value: no point of the triangle is below it.
    assert (triangle @ (shares @ g) - shares @ h).min() == pytest.approx(value, abs=1e-8)


@given(seeds, st.floats(0.0, 3.0))
def test_triangle_gauge_that_stops_early_is_a_sound_lower_bound(seed, enough):
    rng, g, h = random_case(seed)
    triangle = rng.normal(size=(3, 3)) * 2.0
    weights, shares = np.empty(3), np.empty(len(h))
    value = kernels.triangle_gauge(g, h, triangle, enough, np.inf, weights, shares)
    true = slow_gauge(g, h, triangle)
    assert value <= true + 1e-9
    assert value >= min(enough, true) - 1e-9


@pytest.mark.parametrize("name", sorted(shapes.all_rough()))
def test_tree_search_finds_the_least_of_all_triangles(name):
    surface = Surface.of(shapes.all_rough()[name])
    for seed in range(4):
        _, g, h = random_case(seed)
        weights, shares = np.empty(3), np.empty(len(h))
        every = [
            kernels.triangle_gauge(g, h, t, np.inf, np.inf, weights, shares)
            for t in surface.triangles
        ]
        nothing = np.zeros((1, 3))
        placed = (g, h, nothing, nothing, np.zeros(2))  # no margin: no edges to round
        found = kernels.surface_gauge(surface.triangles, surface.boxes, *placed, -np.inf, np.inf)
        assert found == pytest.approx(min(every), abs=1e-12)
        cut = min(every) + 0.5
        near = surface.contacts(placed, np.inf, cut, len(every))
        assert sorted(near.index) == [i for i, value in enumerate(every) if value < cut]
        assert near.gauges == pytest.approx(np.array(every)[near.index], abs=1e-12)
        assert not near.more


def test_contacts_say_when_there_is_no_room_for_all():
    surface = Surface.of(shapes.icosphere())
    _, g, h = random_case(0)
    placed = (g, h, np.zeros((1, 3)), np.zeros((1, 3)), np.zeros(2))
    near = surface.contacts(placed, np.inf, np.inf, 10)
    assert near.more
    assert len(near.index) == 10


@given(seeds)
def test_point_gauge_and_contacts_against_all_points(seed):
    rng, g, h = random_case(seed)
    points = rng.normal(size=(50, 3)) * 3.0
    every = (points @ g.T - h).max(axis=1)
    found = kernels.point_gauge(points, rng.permutation(50), g, h, -np.inf, np.inf)
    assert found == pytest.approx(every.min(), abs=1e-12)
    index, gauges, pulls = np.empty(50, np.int64), np.empty(50), np.empty((50, 3))
    cut = float(np.median(every))
    count = kernels.point_contacts(points, g, h, cut, index, pulls, gauges)
    assert sorted(index[:count]) == list(np.flatnonzero(every < cut))
    assert gauges[:count] == pytest.approx(every[index[:count]], abs=1e-12)


def glop(rows, limits, objective, box):
    """The same linear program by another solver (Google's GLOP through OR-Tools)."""
    solver = pywraplp.Solver.CreateSolver("GLOP")
    x = [solver.NumVar(-b, b, "") for b in box]
    for row, limit in zip(rows, limits, strict=True):
        solver.Add(sum(float(a) * v for a, v in zip(row, x, strict=True)) <= float(limit))
    solver.Maximize(sum(float(c) * v for c, v in zip(objective, x, strict=True)))
    status = solver.Solve()
    return None if status != pywraplp.Solver.OPTIMAL else solver.Objective().Value()


@given(seeds, st.integers(1, 60))
def test_best_step_agrees_with_another_solver(seed, m):
    rng = np.random.default_rng(seed)
    n = 8
    rows, limits = rng.normal(size=(m, n)), rng.normal(size=m) + 0.5
    objective, box = rng.normal(size=n), rng.uniform(0.5, 2.0, n)
    x, multipliers, solved = best_step(rows, limits, objective, box)
    expected = glop(rows, limits, objective, box)
    assert solved == (expected is not None)
    if expected is not None:
        assert objective @ x == pytest.approx(expected, abs=1e-6)
        assert (rows @ x - limits).max() <= 1e-9
        assert np.abs(x / box).max() <= 1.0 + 1e-9
        assert multipliers.min() >= -1e-9
        # Weak duality: the multipliers alone prove that nothing better exists.
        rest = objective - multipliers @ rows
        assert multipliers @ limits + np.abs(rest) @ box == pytest.approx(objective @ x, abs=1e-6)


def test_degenerate_step_ends():
    """Many equal rows through one point: the method must not go in circles."""
    rows = np.tile(np.vstack([np.eye(8), -np.eye(8)]), (20, 1))
    objective = np.r_[1.0, np.zeros(7)]
    x, _, solved = best_step(rows, np.zeros(len(rows)), objective, np.ones(8))
    assert solved
    assert np.abs(x).max() <= 1e-9


@pytest.mark.parametrize("name", sorted(shapes.all_rough()))
def test_winding_number_is_one_inside_and_none_outside(name):
    mesh = shapes.all_rough()[name]
    surface = Surface.of(mesh)
    corners = surface.triangles.reshape(-1, 3)
    beyond = corners.max(axis=0) + 1.0
    assert kernels.winding_number(surface.triangles, beyond) == pytest.approx(0.0, abs=1e-9)
    middle = surface.triangles[0].mean(axis=0)
    edge = np.diff(surface.triangles[0], axis=0)
    inward = -np.cross(edge[0], edge[1])
    inside = middle + inward / np.linalg.norm(inward) * 1e-3
    assert kernels.winding_number(surface.triangles, inside) == pytest.approx(1.0, abs=1e-6)
