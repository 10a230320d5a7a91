"""Which saw cuts separate a set of stones: bricks by hand, and brute force."""

from itertools import combinations

import numpy as np
import pytest
import shapes
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.several.cut_tree import CutTree, cell_walls
from optimizer.several.hull_distance import hull_distance
from optimizer.several.separation import separate

SEEDS = st.integers(0, 10_000)


def box(centre, size):
    return shapes.box(size).vertices + np.asarray(centre, float)


def grid(along, across, apart_mm):
    """Bricks 3 × 2 × 1 in rows and columns."""
    return [
        box((i * (3 + apart_mm), j * (2 + apart_mm), 0), (3, 2, 1))
        for i in range(along)
        for j in range(across)
    ]


def pinwheel(apart_mm):
    """Four bricks around a hole: no straight cut passes between them."""
    places = [((1, 0.5), (2, 1)), ((2.5, 1), (1, 2)), ((2, 2.5), (2, 1)), ((0.5, 2), (1, 2))]
    return [box((x, y, 0), (a - apart_mm, b - apart_mm, 1)) for (x, y), (a, b) in places]


def loose(seed, many, apart_mm, room=8.0):
    """Polytopes at random, each two of them far enough apart."""
    rng = np.random.default_rng(seed)
    stones = []
    while len(stones) < many:
        shape = shapes.random_polytope(int(rng.integers(100)), 8, 1.0).vertices
        one = shape * rng.uniform(0.4, 2.2, 3) + rng.uniform(0, room, 3)
        if all(hull_distance(one, other).mm >= apart_mm for other in stones):
            stones.append(one)
    return stones


def clear_of_all(cut_tree, stones, apart_mm):
    """Every plane keeps its margin, and every stone ends alone in its piece."""
    beside = dict(cell_walls(cut_tree, apart_mm / 2.0))
    assert sorted(beside) == list(range(len(stones)))
    for stone, walls in beside.items():
        for wall in walls:
            assert (stones[stone] @ wall.normal).max() <= wall.offset + 1e-9
            assert np.linalg.norm(wall.normal) == pytest.approx(1.0, abs=1e-12)


def cuts(cut_tree):
    return (
        []
        if isinstance(cut_tree, int)
        else [cut_tree.plane, *cuts(cut_tree.below), *cuts(cut_tree.above)]
    )


def can_be_sawn(stones, apart_mm):
    """Brute force: all splits at every step."""
    if len(stones) < 2:
        return True
    for count in range(1, len(stones) // 2 + 1):
        for chosen in combinations(range(len(stones)), count):
            one = [stones[i] for i in chosen]
            other = [s for i, s in enumerate(stones) if i not in chosen]
            far = hull_distance(np.vstack(one), np.vstack(other)).mm >= apart_mm - 1e-9
            if far and can_be_sawn(one, apart_mm) and can_be_sawn(other, apart_mm):
                return True
    return False


def test_one_stone_needs_no_cut():
    assert separate([box((0, 0, 0), (1, 1, 1))], 1.4).cut_tree == 0


def test_two_stones_are_separated_in_the_middle_of_the_widest_gap():
    cut_tree = separate([box((0, 0, 0), (2, 2, 2)), box((5, 1, 0), (2, 2, 2))], 1.4).cut_tree
    assert isinstance(cut_tree, CutTree)
    assert (cut_tree.below, cut_tree.above) in {(0, 1), (1, 0)}
    turn = 1.0 if cut_tree.below == 0 else -1.0
    assert turn * cut_tree.plane.normal == pytest.approx([1, 0, 0], abs=1e-12)
    assert turn * cut_tree.plane.offset == pytest.approx(2.5, abs=1e-12)


def test_two_stones_too_near_one_another_are_a_proof():
    pair = [box((9, 9, 9), (1, 1, 1)), box((0, 0, 0), (2, 2, 2)), box((3, 0, 0), (2, 2, 2))]
    assert separate(pair, 1.0).cut_tree is not None
    found = separate(pair, 1.01)
    assert (found.cut_tree, found.locked, found.proved) == (None, (1, 2), True)


def test_a_grid_is_sawn_along_its_rows_and_columns():
    stones = grid(4, 3, 1.4)
    cut_tree = separate(stones, 1.4).cut_tree
    clear_of_all(cut_tree, stones, 1.4)
    for plane in cuts(cut_tree):
        assert np.abs(plane.normal).max() == pytest.approx(1.0, abs=1e-9)
        assert abs(plane.normal[2]) < 1e-6


def test_the_first_cut_splits_the_stones_evenly():
    cut_tree = separate(grid(8, 1, 1.4), 1.4).cut_tree
    assert len(cuts(cut_tree.below)) == len(cuts(cut_tree.above)) == 3


def test_a_preferred_normal_comes_first_and_parallel_cuts_follow():
    stones = grid(5, 5, 2.0)
    for k, normal in enumerate(np.eye(3)[:2]):
        cut_tree = separate(stones, 1.4, [normal]).cut_tree
        clear_of_all(cut_tree, stones, 1.4)
        assert cut_tree.plane.normal == pytest.approx(normal)
        assert sum(abs(plane.normal[k]) > 0.99 for plane in cuts(cut_tree)) == 4  # rows, at once
    slanted = np.array([1.0, 0.05, 0.0]) / np.hypot(1.0, 0.05)
    cut_tree = separate(grid(2, 1, 2.0), 1.4, [slanted]).cut_tree
    assert cut_tree.plane.normal == pytest.approx(slanted)


def test_no_straight_cut_separates_a_pinwheel():
    found = separate(pinwheel(0.2), 0.1)
    assert (found.cut_tree, found.locked, found.proved) == (None, (0, 1, 2, 3), True)


@pytest.mark.parametrize("gone", range(4))
def test_any_three_of_a_pinwheel_can_be_sawn(gone):
    stones = [brick for k, brick in enumerate(pinwheel(0.2)) if k != gone]
    clear_of_all(separate(stones, 0.1).cut_tree, stones, 0.1)


def test_a_locked_set_is_found_among_others():
    aside = [box((x, 20, 0), (2, 2, 2)) for x in (0, 5, 10)]
    stones = [aside[0], *pinwheel(0.2), *aside[1:]]
    assert separate(stones, 0.1).locked == (1, 2, 3, 4)


def test_without_trials_nothing_is_claimed():
    found = separate(pinwheel(0.2), 0.1, trials=3)
    assert (found.cut_tree, found.proved) == (None, False)
    assert found.locked == (0, 1, 2, 3)


@given(SEEDS)
@settings(max_examples=40)
def test_brute_force_agrees(seed):
    stones = loose(seed, 5, 0.4, room=4.0 + seed % 3)
    found = separate(stones, 0.4)
    assert (found.cut_tree is not None) == can_be_sawn(stones, 0.4)
    if found.cut_tree is not None:
        clear_of_all(found.cut_tree, stones, 0.4)
        return
    assert found.proved
    locked = [stones[i] for i in found.locked]
    assert not can_be_sawn(locked, 0.4)
    for k in range(len(locked)):
        assert can_be_sawn(locked[:k] + locked[k + 1 :], 0.4)


@given(SEEDS)
@settings(max_examples=20)
def test_what_can_be_sawn_does_not_depend_on_where_it_lies(seed):
    stones = loose(seed, 7, 0.4, room=5.5)
    rng = np.random.default_rng(seed)
    turn, shift = shapes.random_rotation(rng), rng.uniform(-40, 40, 3)
    moved = [stone @ turn.T + shift for stone in stones]
    found, again = separate(stones, 0.4), separate(moved, 0.4)
    assert (found.locked, found.proved) == (again.locked, again.proved)
    if again.cut_tree is not None:
        clear_of_all(again.cut_tree, moved, 0.4)


def test_forty_stones_are_separated_or_proved_locked():
    verdicts = []
    for seed in range(4):
        stones = loose(seed, 40, 0.4, room=13.0 + 2 * seed)
        found = separate(stones, 0.4)
        assert found.proved == (found.cut_tree is None)
        verdicts.append(found.proved)
        if found.cut_tree is not None:
            clear_of_all(found.cut_tree, stones, 0.4)
    assert {True, False} == set(verdicts)
