"""Demands on what the face shows: their place by the view from the stone, rows by differences."""

import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st
from random_situations import MM_PER_RADIAN, guidance_figures, moved, random_situation

from optimizer.design import build_body, load_design
from optimizer.optics.look_cubics import bounds_of
from optimizer.optics.look_demands import colour_demands
from optimizer.optics.look_map import normal_of
from optimizer.order import LookDemand
from optimizer.placement.growing import growing_by_width
from optimizer.placement.shown import POWERS, Cubics, Shown

LOOK = LookDemand(
    "split", "violet", (40.0, 60.0), balance_of_halves=0.7, balance_of_ends=0.6,
    difference_of_ends=0.3,
)  # fmt: skip
ENDS = (0.2, 0.6)
seeds = st.integers(0, 10_000)


@pytest.fixture(scope="module")
def growing():
    return growing_by_width(build_body(load_design("pear"), least_girdle_mm=0.3), 0.2, 0.0)


def demands_at(growing, seed):
    """A pose, and demands whose cubics are about the boundary as it lies a little elsewhere."""
    at, plane = random_situation(growing, seed)
    rng = np.random.default_rng(seed)
    away = moved(at, rng.normal(size=7) * 0.1)
    view = guidance_figures(growing, away, plane)
    normal = normal_of(view["tilt_deg"], view["azimuth_deg"])
    across = shapes.random_rotation(rng)
    across = np.linalg.qr(np.column_stack([normal, *across[:2]]))[0].T[1:]
    factors = rng.uniform(0.1, 0.9, (len(POWERS), 5))
    near = Cubics(normal, across, view["offset"], np.full(3, 0.5), factors)
    return (
        at,
        plane,
        near,
        Shown(near, bounds_of(colour_demands(LOOK), "violet", 0.01, ENDS)).demands(plane),
    )


def by_hand(near, q):
    """The figures, term by term."""
    x, y, z = q
    return sum(
        row * x**i * y**j * z**k for row, (i, j, k) in zip(near.factors, POWERS, strict=True)
    )


def test_there_is_one_term_for_each_product_up_to_the_third_degree():
    assert len(POWERS) == 20 == len({tuple(row) for row in POWERS})
    assert POWERS.sum(axis=1).max() == 3
    assert not POWERS[0].any()


@given(seed=seeds)
def test_met_exactly_where_the_figures_seen_from_the_stone_are(growing, seed):
    at, plane, near, demands = demands_at(growing, seed)
    view = guidance_figures(growing, at, plane)
    lean = near.across @ normal_of(view["tilt_deg"], view["azimuth_deg"])
    q = np.array([*lean, view["offset"] - near.offset])
    if abs(plane.normal @ at.rotation[:, 2]) > 0.95 or np.abs(q).max() > 0.5:
        return
    share, *pairs = by_hand(near, q)
    spare = [share - 0.41, 0.59 - share]
    for (one, other), least in ((pairs[:2], 0.71), (pairs[2:], 0.61)):
        spare += [one - least * other, other - least * one]
    spare.append(pairs[3] - pairs[2] - 0.31)
    told = [one.clearance(at) / MM_PER_RADIAN for one in demands]
    np.testing.assert_allclose(told[:-1], spare, atol=1e-9)
    assert told[-1] == pytest.approx(0.5 - np.abs(q).max(), abs=1e-9)


@given(seed=seeds)
def test_rows_foretell_small_moves(growing, seed):
    at, _, _, demands = demands_at(growing, seed)
    move = np.random.default_rng(seed).normal(size=7) * 1e-4
    for demand in demands:
        rows, limits = demand.rows(at)
        promised = (limits - rows @ move).min()
        now = demand.clearance(moved(at, move))
        assert now >= promised - 1e-5
        if len(rows) == 1:
            assert now == pytest.approx(promised, abs=1e-5)


@given(seed=seeds)
def test_a_step_looser_is_worth_what_it_says_where_the_cubics_are_about(growing, seed):
    at, plane = random_situation(growing, seed)
    view = guidance_figures(growing, at, plane)
    if abs(plane.normal @ at.rotation[:, 2]) > 0.95:
        return
    normal = normal_of(view["tilt_deg"], view["azimuth_deg"])
    across = np.linalg.svd(normal[None])[2][1:]
    factors = np.random.default_rng(seed).uniform(0.1, 0.9, (len(POWERS), 5))
    near = Cubics(normal, across, view["offset"], np.full(3, 0.5), factors)
    for demand in Shown(near, bounds_of(colour_demands(LOOK), "violet", 0.0, ENDS)).demands(plane):
        loose = demand.relaxed(MM_PER_RADIAN, 1.0)
        gain = loose.demand.clearance(at) - demand.clearance(at)
        assert gain == pytest.approx(loose.step * loose.per_unit, rel=1e-6)


def test_all_and_nothing_bind_nowhere_and_every_sentence_names_the_look():
    bounds = bounds_of(colour_demands(LOOK), "violet", 0.0, ENDS)
    assert [one.sentence for one in bounds[:2]] == [
        "the look: at least 40 % of the face violet",
        "the look: at most 60 % of the face violet",
    ]
    assert len(bounds) == 7
    assert all(one.sentence.startswith("the look: ") for one in bounds)
    whole = LookDemand("split", "violet", (30.0, 100.0))
    assert [one.least for one in bounds_of(colour_demands(whole), "violet", 0.0, ENDS)] == [0.3]
