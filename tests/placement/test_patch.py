"""The patch along which body and triangle meet, against the robust kernel's flat sections."""

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.placement.patch import patch

UP = np.array([0.0, 0.0, 1.0])


def on_floor(points, z=0.0):
    points = np.asarray(points, float)
    return np.column_stack([points, np.full(len(points), z)])


def area(points):
    """Of a convex ring of points in a plane z = const."""
    x, y = points[:, 0], points[:, 1]
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def same_points(found, wanted):
    found, wanted = np.round(found[:, :2], 3), np.asarray(wanted, float)
    assert sorted(map(tuple, np.unique(found, axis=0))) == sorted(map(tuple, wanted))


SQUARE = on_floor([[0, 0], [2, 0], [2, 2], [0, 2]])
LARGE = on_floor([[-9, -9], [9, -9], [0, 19]])


def test_a_flat_within_a_triangle_meets_it_with_all_its_corners():
    same_points(patch(SQUARE, LARGE, UP, np.array([1.0, 1.0, 0.0])), SQUARE[:, :2])


def test_a_triangle_within_a_flat_meets_it_with_all_its_corners():
    small = on_floor([[0.5, 0.5], [1.5, 0.5], [0.5, 1.5]])
    same_points(patch(SQUARE, small, UP, small[0]), small[:, :2])


def test_an_edge_on_a_triangle_is_cut_to_it():
    edge = np.vstack([on_floor([[-3, 0], [3, 0]]), on_floor([[0, 1]], -1.0)])
    triangle = on_floor([[-1, -1], [1, -1], [0, 5]])
    ends = patch(edge, triangle, UP, np.zeros(3))
    half = 1.0 - 1.0 / 6.0  # half the triangle's width one sixth of the way up
    same_points(ends, np.round([[-half, 0.0], [half, 0.0]], 3))


def test_crossing_edges_meet_in_a_point():
    along = np.vstack([on_floor([[-3, 0], [3, 0]]), on_floor([[0, 1]], -1.0)])
    across = np.vstack([on_floor([[0.5, -2], [0.5, 2]]), on_floor([[0.5, 0]], 1.0)])
    same_points(patch(along, across, UP, np.array([0.5, 0.0, 0.0])), [[0.5, 0.0]])


def test_edges_in_one_line_meet_where_both_are():
    one = np.vstack([on_floor([[-3, 0], [1, 0]]), on_floor([[0, 1]], -1.0)])
    other = np.vstack([on_floor([[-1, 0], [4, 0]]), on_floor([[0, 0]], 1.0)])
    same_points(patch(one, other, UP, np.zeros(3)), [[-1.0, 0.0], [1.0, 0.0]])


@pytest.mark.parametrize("corners", [SQUARE[:1], SQUARE[[0, 0]]])
def test_a_corner_meets_in_its_point(corners):
    assert np.array_equal(patch(corners, LARGE, UP, SQUARE[0]), SQUARE[:1])


@given(st.integers(0, 10_000))
@settings(max_examples=40)
def test_its_area_is_the_kernels(seed):
    rng = np.random.default_rng(seed)
    turns = np.sort(rng.uniform(0.0, 2.0 * np.pi, 7))
    body = np.column_stack([np.cos(turns), np.sin(turns)]) * 2.0
    triangle = rng.uniform(-3.0, 3.0, (3, 2))
    if area(triangle) < 0.0:
        triangle = triangle[::-1]
    shared = manifold3d.CrossSection([body]) ^ manifold3d.CrossSection([triangle])
    wanted = shared.area()
    if wanted < 0.01:
        return
    middle = np.vstack(shared.to_polygons()).mean(axis=0)
    found = patch(on_floor(body), on_floor(triangle), UP, np.array([*middle, 0.0]))
    assert area(found) == pytest.approx(wanted, abs=2e-3)
