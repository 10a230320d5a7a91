"""The distance between two convex hulls: closed forms, and certified from both sides."""

import numpy as np
import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import nnls
from scipy.spatial import ConvexHull

from optimizer.several.hull_distance import (
    conflicts,
    corners_of,
    distance_between,
    hull_distance,
)

SEEDS = st.integers(0, 10_000)


def box(centre, size):
    return shapes.box(size).vertices + np.asarray(centre, float)


def ball(rng, centre, radius, corners):
    return shapes.random_polytope(int(rng.integers(1000)), corners, radius).vertices + centre


def two(seed):
    """Two polytopes of quite different sizes, somewhere far from the origin."""
    rng = np.random.default_rng(seed)
    first = ball(rng, rng.uniform(-50, 50, 3), rng.uniform(0.1, 5.0), int(rng.integers(5, 60)))
    way = rng.standard_normal(3)
    far = rng.uniform(0.0, 25.0)
    middle = first.mean(axis=0) + far * way / np.linalg.norm(way)
    return first, ball(rng, middle, rng.uniform(0.1, 5.0), int(rng.integers(5, 60)))


def by_least_squares(first, second):
    """The same distance by non-negative least squares, the weights' sums held by a heavy row."""
    middle, heavy = first.mean(axis=0), 1e6
    top = np.hstack([(first - middle).T, -(second - middle).T])
    sums = np.zeros((2, top.shape[1]))
    sums[0, : len(first)] = sums[1, len(first) :] = heavy
    return nnls(np.vstack([top, sums]), np.array([0, 0, 0, heavy, heavy]), maxiter=10_000)[1]


def outside(points, point):
    return (ConvexHull(points).equations @ np.append(point, 1.0)).max()


@pytest.mark.parametrize(
    ("first", "second", "mm"),
    [
        (box((0, 0, 0), (2, 2, 2)), box((5, 0, 0), (2, 4, 6)), 3.0),  # face to face
        (box((0, 0, 0), (2, 2, 2)), box((4, 5, 0), (2, 2, 2)), np.hypot(2, 3)),  # edge to edge
        (box((0, 0, 0), (2, 2, 2)), box((3, 4, 4), (2, 2, 2)), 3.0),  # corner to corner
        (box((0, 0, 0), (2, 2, 2)), np.array([[0.3, 0.2, 7.0]]), 6.0),  # a point above a face
        (np.array([[-1, 0, 0], [1.0, 0, 0]]), np.array([[0, -1, 2], [0, 1.0, 2]]), 2.0),  # crossed
    ],
)
def test_closed_forms(first, second, mm):
    found = hull_distance(first, second)
    assert found.mm == pytest.approx(mm, rel=1e-14)
    assert found.gap_mm == pytest.approx(mm, rel=1e-14)


def test_hulls_that_meet_have_no_distance():
    found = hull_distance(box((0, 0, 0), (2, 2, 2)), box((1, 1, 1), (2, 2, 2)))
    assert found.mm == pytest.approx(0.0, abs=1e-12)
    assert found.gap_mm <= 0.0
    touching = hull_distance(box((0, 0, 0), (2, 2, 2)), box((2, 0, 0), (2, 2, 2)))
    assert touching.mm == pytest.approx(0.0, abs=1e-12)


@given(SEEDS)
def test_the_distance_is_certified_from_both_sides(seed):
    first, second = two(seed)
    found = hull_distance(first, second)
    assert outside(first, found.on_first) <= 1e-10
    assert outside(second, found.on_second) <= 1e-10
    assert (second @ found.way).min() - (first @ found.way).max() == pytest.approx(
        found.gap_mm, abs=1e-12
    )
    if found.mm > 1e-9:
        between = found.on_second - found.on_first
        assert np.linalg.norm(between) == pytest.approx(found.mm, abs=1e-12)
        assert found.mm - found.gap_mm <= 1e-11
        assert found.mm * found.way == pytest.approx(between, abs=1e-10)


@given(SEEDS)
def test_least_squares_agree(seed):
    first, second = two(seed)
    assert hull_distance(first, second).mm == pytest.approx(
        by_least_squares(first, second), abs=1e-6
    )


@given(SEEDS)
def test_a_rigid_motion_keeps_the_distance(seed):
    first, second = two(seed)
    turn = shapes.random_rotation(np.random.default_rng(seed))
    moved = hull_distance(first @ turn.T + 7.0, second @ turn.T + 7.0)
    assert moved.mm == pytest.approx(hull_distance(second, first).mm, abs=1e-11)


def test_sets_of_several_stones_are_measured_as_one_hull():
    stones = [box((0, 0, 0), (2, 2, 2)), box((0, 9, 0), (2, 2, 2)), box((4, 4, 0), (2, 2, 2))]
    side = np.array([1, 1, 2], np.int8)
    assert distance_between(corners_of(stones), side).mm == pytest.approx(
        2.0, rel=1e-14
    )  # to their bridge
    assert hull_distance(stones[0], stones[2]).mm == pytest.approx(np.hypot(2, 2), rel=1e-14)


def test_an_early_end_still_answers_the_question():
    stones = corners_of([box((0, 0, 0), (2, 2, 2)), box((4, 5, 4), (2, 2, 2))])
    side, true = np.array([1, 2], np.int8), np.sqrt(4 + 9 + 4)
    assert distance_between(stones, side, enough_mm=3.0).gap_mm >= 3.0
    assert distance_between(stones, side, little_mm=5.0).mm <= 5.0
    for early in (
        distance_between(stones, side, enough_mm=3.0),
        distance_between(stones, side, little_mm=5.0),
    ):
        assert early.gap_mm - 1e-12 <= true <= early.mm + 1e-12


def test_the_conflict_graph_holds_the_pairs_that_are_too_near():
    rng = np.random.default_rng(4)
    stones = [
        ball(rng, rng.uniform(0, 9, 3), rng.uniform(0.5, 2), int(rng.integers(5, 40)))
        for _ in range(40)
    ]
    near = conflicts(corners_of(stones), 1.4)
    assert 0.1 < near.mean() < 0.9
    for i in range(40):
        assert not near[i, i]
        for j in range(i):
            assert near[i, j] == near[j, i] == (hull_distance(stones[i], stones[j]).mm < 1.4)


def test_a_pair_exactly_far_enough_apart_is_no_conflict():
    pair = [box((0, 0, 0), (2, 2, 2)), box((2.0 + 1.4, 0, 0), (2, 2, 2))]
    assert not conflicts(corners_of(pair), 1.4).any()
    assert conflicts(corners_of(pair), 1.4 + 1e-6)[0, 1]
