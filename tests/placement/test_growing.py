"""Growing bodies: nested, the girdle law, margins."""

import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st

from optimizer.design import build_body, load_design
from optimizer.placement.growing import growing_by_clearance, growing_by_width

widths = st.floats(0.5, 30.0)


@pytest.fixture(scope="module")
def oval():
    return build_body(load_design("oval"), least_girdle_mm=0.3)


def inside(growing, sigma, points):
    """Whether points lie in the growing body at σ (the larger of its growths)."""
    return np.any(
        [
            np.all(points @ f.normals.T <= f.alpha + f.beta * sigma + 1e-12, axis=1)
            for f in growing.growths
        ],
        axis=0,
    )


@given(widths)
def test_the_growing_body_is_the_body(oval, width):
    """A point is reached at σ exactly if it lies in the body of that width."""
    growing = growing_by_width(oval, 0.0, 0.0)
    points = np.random.default_rng(0).uniform(-1.0, 1.0, (2000, 3)) * width
    offsets = oval.offsets_at(width)
    expected = np.all(points @ oval.normals.T <= offsets + 1e-12, axis=1)
    assert np.array_equal(inside(growing, width, points), expected)


@given(widths)
def test_corners_and_their_pace(oval, width):
    growing = growing_by_width(oval, 0.2, 0.0)
    growth = growing.near(width, 0.0)[0]
    corners = growth.corners0 + growth.corners1 * width
    assert np.abs(corners - oval.vertices_at(width)).max() < 1e-12
    step = 1e-6
    slope = (oval.vertices_at(width + step) - oval.vertices_at(width - step)) / (2.0 * step)
    switch = oval.least_girdle_mm / oval.girdle_share
    if abs(width - switch) > 1e-3:
        assert np.abs(growing.pace(width) - slope).max() < 1e-8


def test_only_the_growths_that_matter(oval):
    growing = growing_by_width(oval, 0.0, 0.0)
    switch = oval.least_girdle_mm / oval.girdle_share
    assert len(growing.near(switch, 1.0)) == 2
    assert growing.near(switch - 2.0, 1.0) == (growing.growths[1],)
    assert growing.near(switch + 2.0, 1.0) == (growing.growths[0],)
    assert len(growing_by_width(oval, 0.0, switch).growths) == 1


def test_skin_moves_every_facet_out(oval):
    bare, clad = (growing_by_width(oval, skin, 0.0) for skin in (0.0, 0.25))
    for one, other in zip(bare.growths, clad.growths, strict=True):
        assert other.alpha - one.alpha == pytest.approx(0.25)
        assert np.array_equal(other.beta, one.beta)


@given(st.floats(0.0, 2.0))
def test_clearance_grows_about_a_fixed_body(oval, clearance):
    growing = growing_by_clearance(oval, 8.0)
    (growth,) = growing.growths
    assert growth.alpha + growth.beta * clearance == pytest.approx(oval.offsets_at(8.0) + clearance)
    assert growing.width(clearance) == 8.0
    assert np.array_equal(growing.corners(clearance), oval.vertices_at(8.0))


def test_shapes_of_other_bodies_too():
    """Any convex body grows by plain scaling."""
    from solids import body_of

    body = body_of(shapes.box((2.0, 2.0, 2.0)))
    growing = growing_by_width(body, 0.0, 0.0)
    assert len(growing.growths) == 1
    assert growing.growths[0].pace == pytest.approx(1.0)
