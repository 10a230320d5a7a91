"""How far a path runs in each colour, against points along it."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.optics.kernels.split import split_lengths

SEEDS = st.integers(0, 10_000)
FINE = 20_000


def value(form, x):
    a, b, c, d, e, f, g, h, i, j = form
    return (
        a * x[:, 0] ** 2 + b * x[:, 1] ** 2 + c * x[:, 2] ** 2
        + d * x[:, 0] * x[:, 1] + e * x[:, 0] * x[:, 2] + f * x[:, 1] * x[:, 2]
        + g * x[:, 0] + h * x[:, 1] + i * x[:, 2] + j
    )  # fmt: skip


@given(SEEDS, st.integers(1, 3), st.booleans())
def test_lengths_are_those_that_points_along_the_path_tell(seed, count, flat):
    rng = np.random.default_rng(seed)
    forms = rng.normal(size=(count, 10))
    if flat:
        forms[:, :6] = 0.0
    points = rng.normal(size=(5, 3))
    inside, outside = np.empty(5), np.empty(5)
    split_lengths(forms, flat, np.array([0, 5]), points, inside, outside)
    legs = np.linalg.norm(np.diff(points, axis=0), axis=1)
    np.testing.assert_allclose(inside + outside, [0.0, *np.cumsum(legs)], atol=1e-12)
    steps = (np.arange(FINE) + 0.5) / FINE
    run = 0.0
    off = (2 * count + 2) * 4 * legs.max() / FINE
    for k, (p, q) in enumerate(pairwise(points)):
        along = p + steps[:, None] * (q - p)
        run += legs[k] * np.all([value(form, along) > 0.0 for form in forms], axis=0).mean()
        assert inside[k + 1] == pytest.approx(run, abs=(k + 1) * off)


@given(SEEDS)
def test_both_ways_of_splitting_agree_on_planes(seed):
    rng = np.random.default_rng(seed)
    forms = np.zeros((2, 10))
    forms[:, 6:] = rng.normal(size=(2, 4))
    points = rng.normal(size=(9, 3))
    got = []
    for flat in (True, False):
        inside, outside = np.empty(9), np.empty(9)
        split_lengths(forms, flat, np.array([0, 4, 9]), points, inside, outside)
        got.append(inside)
    np.testing.assert_allclose(got[0], got[1], atol=1e-12)
