"""Boundaries as forms: the same side as the boundary's own heights, wherever the stone lies."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from optimizer.mesh import Plane
from optimizer.optics.boundary_forms import forms_of
from optimizer.rough.model import Ball, BentSheet, ConvexRoom
from optimizer.rough.zones.boundary import heights

X, Y, Z = np.eye(3)
BOUNDARIES = {
    "plane": Plane.through(np.array([1.0, 2.0, 0.5]), np.array([1.0, 2.0, 3.0])),
    "band": ConvexRoom((Plane(Z, -0.4), Plane(-Z, -0.8))),
    "corner": ConvexRoom((Plane(X, 0.1), Plane(Y, -0.2), Plane((X + Z) / np.sqrt(2.0), 0.3))),
    "ball": Ball(np.array([0.3, -0.2, 1.0]), 1.7),
    "bent": BentSheet(np.array([0.1, 0.2, 0.3]), np.array([Y, Z, X]), np.array([0.4, -0.2])),
}


def value(forms, x):
    square = x**2 @ forms[:, :3].T
    mixed = np.column_stack([x[:, 0] * x[:, 1], x[:, 0] * x[:, 2], x[:, 1] * x[:, 2]])
    return square + mixed @ forms[:, 3:6].T + x @ forms[:, 6:9].T + forms[:, 9]


@pytest.mark.parametrize("kind", BOUNDARIES)
@given(st.integers(0, 1000))
def test_the_side_is_the_boundarys_own(kind, seed):
    rng = np.random.default_rng(seed)
    rotation = Rotation.random(random_state=seed).as_matrix()
    translation = rng.normal(size=3)
    stone = 2.0 * rng.normal(size=(500, 3))
    forms = forms_of(BOUNDARIES[kind], rotation, translation)
    high = heights(BOUNDARIES[kind], translation + stone @ rotation.T)
    clear = np.abs(high) > 1e-9
    inside = (value(forms, stone) > 0.0).all(axis=1)
    np.testing.assert_array_equal(inside[clear], high[clear] > 0.0)
