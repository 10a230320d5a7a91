"""How far the blade must reach: closed forms, and brute force over directions."""

import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st

from optimizer.mesh import Plane
from optimizer.sawing.depth import cut_depth, least_width
from optimizer.solid import as_mesh, as_solid

SEEDS = st.integers(0, 10_000)


def width_by_turning(points, steps=7200):
    """Least extent over many directions: never below the true width."""
    turn = np.arange(steps) * np.pi / steps
    return np.ptp(points @ np.array([np.cos(turn), np.sin(turn)]), axis=0).min()


@given(SEEDS, st.integers(3, 40))
def test_least_width_against_turning_the_points(seed, count):
    points = np.random.default_rng(seed).standard_normal((count, 2)) * [5.0, 2.0]
    width, brute = least_width(points), width_by_turning(points)
    assert width <= brute + 1e-12
    # a turn by half a step lets the brute force miss by at most the points' spread times the turn
    assert brute - width <= 2 * np.abs(points).max() * np.pi / 7200


def test_least_width_of_an_equilateral_triangle_is_its_height():
    corners = np.array([[0, 0], [1, 0], [0.5, np.sqrt(0.75)]])
    assert least_width(corners) == pytest.approx(np.sqrt(0.75), rel=1e-12)


def test_points_on_a_line_have_no_width():
    assert least_width(np.outer(np.arange(5.0), [1.0, 2.0])) == 0.0
    assert least_width(np.array([[1.0, 2.0]])) == 0.0


@given(SEEDS)
def test_a_bar_cut_square_is_as_deep_as_its_thinner_side(seed):
    turn, shift = shapes.random_motion(np.random.default_rng(seed))
    bar = shapes.moved(shapes.box((30.0, 9.0, 7.0)), turn, shift)
    plane = Plane.through(shift + turn @ [4.0, 0, 0], turn[:, 0])
    assert cut_depth(bar, plane, 0.4) == pytest.approx(7.0, abs=1e-9)


def test_a_slanting_cut_through_a_bar():
    normal = np.array([1.0, 0.0, 1.0]) / np.sqrt(2.0)
    # the cut is 9 across and 7·√2 = 9.9 along the slope: 9 is the shorter way for any thin kerf
    assert cut_depth(shapes.box((30, 9, 7)), Plane(normal, 0.0), 0.4) == pytest.approx(9.0)
    # across a narrower bar the way down the slope is longer still
    assert cut_depth(shapes.box((30, 20, 7)), Plane(normal, 0.0), 0.0) == pytest.approx(
        7.0 * np.sqrt(2.0)
    )


@given(SEEDS, st.floats(-4, 4), st.floats(0.0, 2.0))
def test_depth_spans_all_that_the_kerf_takes(seed, offset, kerf):
    rng = np.random.default_rng(seed)
    piece = shapes.dented(seed % 5, subdivisions=2)
    normal = shapes.random_rotation(rng)[:, 2]
    half = kerf / 2 + 1e-7
    taken = as_solid(piece).trim_by_plane(tuple(normal), offset - half)
    taken = as_mesh(taken.trim_by_plane(tuple(-normal), -offset - half))
    u = np.linalg.svd(normal[None])[2][1:]
    brute = width_by_turning(taken.vertices @ u.T)
    assert cut_depth(piece, Plane(normal, offset), kerf) == pytest.approx(brute, abs=0.02)
