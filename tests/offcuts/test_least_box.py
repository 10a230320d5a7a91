"""The least box about boxes, balls and pebbles."""

import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st
from trimesh import Trimesh

from optimizer.offcuts.least_box import least_box

side = st.floats(1.0, 30.0)


@given(st.tuples(side, side, side), st.integers(0, 10_000))
def test_a_turned_box_is_its_own(sides, seed):
    turn, shift = shapes.random_motion(np.random.default_rng(seed), reach=100.0)
    mesh = shapes.moved(shapes.box(sides), turn, shift)
    axes, sizes = least_box(mesh)
    assert sizes == pytest.approx(sorted(sides, reverse=True), rel=1e-5)
    assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-9)
    assert np.linalg.det(axes) == pytest.approx(1.0)
    assert np.ptp(mesh.vertices @ axes.T, axis=0) == pytest.approx(sizes)


def test_it_is_no_larger_than_another_library_finds():
    """trimesh.bounds, another search, on pieces without flat sides."""
    for seed in range(4):
        mesh = shapes.pebble(seed, subdivisions=2)
        other = np.prod(Trimesh(mesh.vertices, mesh.faces).bounding_box_oriented.primitive.extents)
        assert np.prod(least_box(mesh)[1]) <= 1.02 * other
