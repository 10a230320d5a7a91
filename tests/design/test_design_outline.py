"""Outline curves and their polygons."""

import numpy as np
import pytest

from optimizer.design.curves import bowed, egg, pear, rounded
from optimizer.design.model import Outline
from optimizer.design.outline import corners, edge_lengths, fitted

ROUND = np.radians(np.arange(11.25, 360.0, 22.5))
PEAR = np.radians(3.75 * np.array([10, 16, 22, 28, 34, 40, 46, 50, 56, 62, 68, 74, 80, 86]))
POINTED = bowed(Outline("", "bowed", tips=((2, 0), (-2, 0)), bows=(0.25, 0.25)))
GRID = np.linspace(0.0, 2.0 * np.pi, 721)


def curve_points(support, length):
    """Points of a curve from its support function h: p = h·n + h'·t, by central differences."""
    step = 1e-6
    h = support(GRID, length, 1.0)
    slope = (support(GRID + step, length, 1.0) - support(GRID - step, length, 1.0)) / (2 * step)
    return np.column_stack(
        [h * np.cos(GRID) - slope * np.sin(GRID), h * np.sin(GRID) + slope * np.cos(GRID)]
    )


def test_rounded_with_fullness_two_is_the_ellipse():
    x, y = curve_points(rounded(2.0), 1.5).T
    assert np.abs((x / 0.75) ** 2 + (y / 0.5) ** 2 - 1.0).max() < 1e-8


@pytest.mark.parametrize("fullness", [2.6, 4.0])
def test_rounded_lies_on_its_curve(fullness):
    x, y = np.abs(curve_points(rounded(fullness), 1.3)).T
    assert np.abs((x / 0.65) ** fullness + (y / 0.5) ** fullness - 1.0).max() < 1e-4


def test_pear_is_a_half_circle_two_arcs_and_a_point():
    points = curve_points(pear, 1.5)
    head = points[np.cos(GRID) < -1e-3]
    assert np.abs(np.linalg.norm(head - [-0.25, 0.0], axis=1) - 0.5).max() < 1e-8
    # length 1.5: the arcs' radius is 1² + 1/4, their centres at (−1/4, ±(1/2 − 5/4))
    upper = points[np.abs(GRID - (np.arcsin(0.6) + np.pi / 2) / 2) < 0.45]
    assert np.abs(np.linalg.norm(upper - [-0.25, -0.75], axis=1) - 1.25).max() < 1e-8
    tip = points[np.arcsin(0.6) - 1e-3 > GRID]
    assert np.abs(tip - [0.75, 0.0]).max() < 1e-8


def test_egg_is_a_half_circle_and_half_an_ellipse():
    """Length 1.4: both about (−0.2, 0), the ellipse with half axes 0.9 and 0.5."""
    x, y = curve_points(egg, 1.4).T
    head, front = np.cos(GRID) < -1e-3, np.cos(GRID) > 1e-3
    assert np.abs(np.hypot(x + 0.2, y)[head] - 0.5).max() < 1e-8
    assert np.abs(((x + 0.2) / 0.9) ** 2 + (y / 0.5) ** 2 - 1.0)[front].max() < 1e-8


def test_bowed_sides_are_arcs_between_the_tips():
    """Twice as long as wide: arcs of radius (1 + 1/4) / (2 · 1/2) by the rule of the sagitta."""
    x, y = np.abs(curve_points(POINTED, 2.0)).T
    on_arc = np.abs(np.tan(GRID)) > 0.751  # their normals; those of the tips lie between
    assert np.abs(np.hypot(x, y + 0.75)[on_arc] - 1.25).max() < 1e-8
    at_tip = np.abs(np.tan(GRID)) < 0.749
    assert np.abs(x[at_tip] - 1.0).max() < 1e-8
    assert np.abs(y[at_tip]).max() < 1e-8


def test_bowed_sides_without_a_bow_are_straight():
    triangle = bowed(Outline("", "bowed", tips=((2, 0), (-1, 1), (-1, -1)), bows=(0.0, 0.0, 0.0)))
    corners = np.array([[2.0, 0.0], [-1.0, 1.0], [-1.0, -1.0]]) * [1.2 / 3.0, 1.0 / 2.0]
    reach = (np.column_stack([np.cos(GRID), np.sin(GRID)]) @ corners.T).max(axis=1)
    assert triangle(GRID, 1.2, 1.0) == pytest.approx(reach, abs=1e-14)


def test_pear_scales_with_both_sizes():
    assert pear(GRID, 3.0, 2.0) == pytest.approx(2.0 * pear(GRID, 1.5, 1.0), rel=1e-14)


def test_corners_of_a_square():
    quarter = np.radians([0.0, 90.0, 180.0, 270.0])
    found = corners(quarter, np.ones(4))
    assert found == pytest.approx(np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]]), abs=1e-15)
    assert edge_lengths(quarter, found) == pytest.approx(np.full(4, 2.0))


def test_a_side_cut_away_has_a_negative_length():
    eighth = np.radians(np.arange(0.0, 360.0, 45.0))
    distance = np.where(np.arange(8) == 1, 2.0, 1.0)  # beyond the corner at sqrt(2)
    assert edge_lengths(eighth, corners(eighth, distance))[1] < 0.0


@pytest.mark.parametrize("support", [rounded(2.0), rounded(3.0), pear, egg, POINTED])
@pytest.mark.parametrize("length", [1.3, 1.47, 1.6])
def test_fitted_polygon_has_the_asked_extents_about_the_axis(support, length):
    theta = ROUND if support is not pear else PEAR
    points = corners(theta, fitted(support, theta, length))
    assert points.max(axis=0) == pytest.approx([length / 2, 0.5], abs=1e-14)
    assert points.min(axis=0) == pytest.approx([-length / 2, -0.5], abs=1e-14)
