"""Which saw cuts part a set of stones: bricks by hand, and brute force."""

from itertools import combinations

import numpy as np
import pytest
import shapes
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.several.apart import apart
from optimizer.several.model import Fork, walls_beside
from optimizer.several.parting import part

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
        if all(apart(one, other).mm >= apart_mm for other in stones):
            stones.append(one)
    return stones


def clear_of_all(fork, stones, apart_mm):
    """Every plane keeps its margin, and every stone is alone in the end."""
    beside = dict(walls_beside(fork, apart_mm / 2.0))
    assert sorted(beside) == list(range(len(stones)))
    for stone, walls in beside.items():
        for wall in walls:
            assert (stones[stone] @ wall.normal).max() <= wall.offset + 1e-9
            assert np.linalg.norm(wall.normal) == pytest.approx(1.0, abs=1e-12)


def cuts(fork):
    return [] if isinstance(fork, int) else [fork.plane, *cuts(fork.below), *cuts(fork.above)]


def can_be_sawn(stones, apart_mm):
    """Brute force: all halves at every step, whatever was found before."""
    if len(stones) < 2:
        return True
    for count in range(1, len(stones) // 2 + 1):
        for chosen in combinations(range(len(stones)), count):
            one = [stones[i] for i in chosen]
            other = [s for i, s in enumerate(stones) if i not in chosen]
            far = apart(np.vstack(one), np.vstack(other)).mm >= apart_mm - 1e-9
            if far and can_be_sawn(one, apart_mm) and can_be_sawn(other, apart_mm):
                return True
    return False


def test_one_stone_needs_no_cut():
    assert part([box((0, 0, 0), (1, 1, 1))], 1.4).fork == 0


def test_two_stones_are_parted_in_the_middle_of_the_widest_gap():
    fork = part([box((0, 0, 0), (2, 2, 2)), box((5, 1, 0), (2, 2, 2))], 1.4).fork
    assert isinstance(fork, Fork)
    assert (fork.below, fork.above) in {(0, 1), (1, 0)}
    turn = 1.0 if fork.below == 0 else -1.0
    assert turn * fork.plane.normal == pytest.approx([1, 0, 0], abs=1e-12)
    assert turn * fork.plane.offset == pytest.approx(2.5, abs=1e-12)


def test_two_stones_too_near_are_a_proof_by_themselves():
    pair = [box((9, 9, 9), (1, 1, 1)), box((0, 0, 0), (2, 2, 2)), box((3, 0, 0), (2, 2, 2))]
    assert part(pair, 1.0).fork is not None
    parted = part(pair, 1.01)
    assert (parted.fork, parted.locked, parted.proved) == (None, (1, 2), True)


def test_a_grid_is_sawn_along_its_rows_and_columns():
    stones = grid(4, 3, 1.4)
    fork = part(stones, 1.4).fork
    clear_of_all(fork, stones, 1.4)
    for plane in cuts(fork):
        assert np.abs(plane.normal).max() == pytest.approx(1.0, abs=1e-9)
        assert abs(plane.normal[2]) < 1e-6


def test_a_first_cut_halves_the_stones():
    fork = part(grid(8, 1, 1.4), 1.4).fork
    assert len(cuts(fork.below)) == len(cuts(fork.above)) == 3


def test_a_preferred_normal_comes_first_and_parallel_cuts_follow():
    stones = grid(5, 5, 2.0)
    for k, normal in enumerate(np.eye(3)[:2]):
        fork = part(stones, 1.4, [normal]).fork
        clear_of_all(fork, stones, 1.4)
        assert fork.plane.normal == pytest.approx(normal)
        assert sum(abs(plane.normal[k]) > 0.99 for plane in cuts(fork)) == 4  # rows, at once
    slanted = np.array([1.0, 0.05, 0.0]) / np.hypot(1.0, 0.05)
    fork = part(grid(2, 1, 2.0), 1.4, [slanted]).fork
    assert fork.plane.normal == pytest.approx(slanted)


def test_no_straight_cut_parts_a_pinwheel():
    parted = part(pinwheel(0.2), 0.1)
    assert (parted.fork, parted.locked, parted.proved) == (None, (0, 1, 2, 3), True)


@pytest.mark.parametrize("gone", range(4))
def test_any_three_of_a_pinwheel_can_be_sawn(gone):
    stones = [brick for k, brick in enumerate(pinwheel(0.2)) if k != gone]
    clear_of_all(part(stones, 0.1).fork, stones, 0.1)


def test_a_locked_set_is_found_among_others():
    aside = [box((x, 20, 0), (2, 2, 2)) for x in (0, 5, 10)]
    stones = [aside[0], *pinwheel(0.2), *aside[1:]]
    assert part(stones, 0.1).locked == (1, 2, 3, 4)


def test_without_trials_nothing_is_claimed():
    parted = part(pinwheel(0.2), 0.1, trials=3)
    assert (parted.fork, parted.proved) == (None, False)
    assert parted.locked == (0, 1, 2, 3)


@given(SEEDS)
@settings(max_examples=40)
def test_brute_force_agrees(seed):
    stones = loose(seed, 5, 0.4, room=4.0 + seed % 3)
    parted = part(stones, 0.4)
    assert (parted.fork is not None) == can_be_sawn(stones, 0.4)
    if parted.fork is not None:
        clear_of_all(parted.fork, stones, 0.4)
        return
    assert parted.proved
    locked = [stones[i] for i in parted.locked]
    assert not can_be_sawn(locked, 0.4)
    for k in range(len(locked)):
        assert can_be_sawn(locked[:k] + locked[k + 1 :], 0.4)


@given(SEEDS)
@settings(max_examples=20)
def test_what_can_be_sawn_does_not_hang_on_where_it_lies(seed):
    stones = loose(seed, 7, 0.4, room=5.5)
    rng = np.random.default_rng(seed)
    turn, shift = shapes.random_rotation(rng), rng.uniform(-40, 40, 3)
    moved = [stone @ turn.T + shift for stone in stones]
    parted, again = part(stones, 0.4), part(moved, 0.4)
    assert (parted.locked, parted.proved) == (again.locked, again.proved)
    if again.fork is not None:
        clear_of_all(again.fork, moved, 0.4)


def test_forty_stones_are_parted_or_proved_locked():
    verdicts = []
    for seed in range(4):
        stones = loose(seed, 40, 0.4, room=13.0 + 2 * seed)
        parted = part(stones, 0.4)
        assert parted.proved == (parted.fork is None)
        verdicts.append(parted.proved)
        if parted.fork is not None:
            clear_of_all(parted.fork, stones, 0.4)
    assert {True, False} == set(verdicts)
