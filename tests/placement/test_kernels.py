"""The compiled kernels against slow, obvious ways to the same numbers."""

import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st
from ortools.linear_solver import pywraplp
from scipy.optimize import linprog
from solids import body_of, placed_facets, winding_number

from optimizer.boxes.kernels.build import LEAF
from optimizer.placement.containers import Surface
from optimizer.placement.growing import growing_by_width
from optimizer.placement.kernels.contacts import uncrowded_depth
from optimizer.placement.kernels.gauges import box_gauge, surface_gauge, triangle_gauge, workspace
from optimizer.placement.kernels.linear import best_step
from optimizer.placement.kernels.points import point_contacts, point_gauge
from optimizer.placement.kernels.windings import windings

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


def gauge_of(g, h, triangle, enough):
    """The triangle's gauge with every facet, its weights and its shares."""
    room = workspace(len(h))
    every = np.arange(len(h))
    value = triangle_gauge(g, h, every, len(h), triangle, enough, np.inf, room)
    return value, room[1], room[2]


@given(seeds)
def test_triangle_gauge_is_the_linear_program_s_value(seed):
    rng, g, h = random_case(seed)
    triangle = rng.normal(size=(3, 3)) * 2.0
    value, weights, shares = gauge_of(g, h, triangle, np.inf)
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
    value, _, _ = gauge_of(g, h, triangle, enough)
    true = slow_gauge(g, h, triangle)
    assert value <= true + 1e-9
    assert value >= min(enough, true) - 1e-9


@pytest.mark.parametrize("name", sorted(shapes.all_rough()))
def test_tree_search_finds_the_least_of_all_triangles(name):
    surface = Surface.of(shapes.all_rough()[name])
    for seed in range(4):
        _, g, h = random_case(seed)
        every = [gauge_of(g, h, t, np.inf)[0] for t in surface.triangles]
        nothing = np.zeros((1, 3))
        placed = (g, h, nothing, nothing, np.zeros(2))  # no margin: no edges to round
        found = surface_gauge(surface.triangles, surface.boxes, placed, -np.inf, np.inf)
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
    found = point_gauge(points, rng.permutation(50), g, h, -np.inf, np.inf)
    assert found == pytest.approx(every.min(), abs=1e-12)
    index, gauges, pulls = np.empty(50, np.int64), np.empty(50), np.empty((50, 3))
    cut = float(np.median(every))
    count = point_contacts(points, g, h, cut, index, pulls, gauges)
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


@pytest.mark.parametrize("name", ["pebble", "bent", "notched"])
def test_what_a_box_keeps_gives_the_gauge_of_all_that_it_holds(name):
    """No facet left out is ever the greatest in the box, and the bound is below all values."""
    surface = Surface.of(shapes.all_rough()[name])
    leaves = (len(surface.boxes) + 1) // 2
    rng, g, h = random_case(5)
    m = len(h)
    kept, room = np.empty(m, np.int64), np.empty(m)
    for node in rng.integers(leaves - 1, 2 * leaves - 1, 200):
        j = node - (leaves - 1)
        n = len(surface.triangles)
        held = surface.triangles[j * n // leaves : (j + 1) * n // leaves]
        bound, count = box_gauge(g, h, surface.boxes, node, np.inf, np.arange(m), m, kept, room)
        shares = rng.dirichlet(np.ones(3), (len(held), 20))
        values = np.einsum("twk,tkx->twx", shares, held) @ g.T - h
        some = values[..., kept[:count]].max(axis=-1)
        assert some == pytest.approx(values.max(axis=-1), abs=1e-9)
        assert not values.size or bound <= some.min() + 1e-9


@pytest.mark.parametrize("name", ["pebble", "bent", "crystal"])
def test_one_contact_stands_for_each_part_of_a_crowded_surface(name):
    """Under each node of the level asked for, the nearest triangle; that level is the deepest
    that is not too crowded."""
    surface = Surface.of(shapes.all_rough()[name])
    _, g, h = random_case(2)
    placed = (g, h, np.zeros((1, 3)), np.zeros((1, 3)), np.zeros(2))
    every = surface.contacts(placed, np.inf, np.inf, len(surface.triangles))
    cut = float(np.quantile(every.gauges, 0.7))
    n, leaves = len(surface.triangles), (len(surface.boxes) + 1) // 2
    leaf = np.searchsorted(np.arange(leaves + 1) * n // leaves, np.arange(n), side="right") - 1
    gauges = np.empty(n)
    gauges[every.index] = every.gauges
    for most in (8, 20, 1000):
        depth = uncrowded_depth(surface.boxes, placed, cut, most)
        near = surface.contacts(placed, np.inf, cut, LEAF * most, depth)
        assert not near.more
        if (1 << depth) > leaves:
            assert sorted(near.index) == list(np.flatnonzero(gauges < cut))
            continue
        part = leaf >> (leaves.bit_length() - 1 - depth)
        least = np.full(1 << depth, np.inf)
        np.minimum.at(least, part, gauges)
        assert len(near.index) <= most
        assert list(np.sort(part[near.index])) == list(np.flatnonzero(least < cut))
        assert near.gauges == pytest.approx(least[part[near.index]], abs=1e-12)


@pytest.mark.parametrize("name", sorted(shapes.all_rough()))
def test_inside_by_crossings_is_inside_by_solid_angle(name):
    """Places all about, and above corners and edges, where crossings are hard to count."""
    surface = Surface.of(shapes.all_rough()[name])
    rng = np.random.default_rng(0)
    corners = surface.triangles.reshape(-1, 3)
    low, high = corners.min(axis=0), corners.max(axis=0)
    places = rng.uniform(low, high, (60, 3))
    places[:20, :2] = corners[rng.integers(len(corners), size=20), :2]
    middles = (surface.triangles[:, 0] + surface.triangles[:, 1]) / 2.0
    places[20:40, :2] = middles[rng.integers(len(middles), size=20), :2]
    around = np.vstack([np.eye(3), -np.eye(3)])
    for place in np.vstack([places, corners.max(axis=0) + 1.0, corners.mean(axis=0)]):
        about = [winding_number(surface.triangles, place + step) for step in 1e-6 * around]
        if np.ptp(about) < 0.5:  # else it lies on the surface
            assert windings(surface.triangles, surface.boxes, place) == round(about[0])
