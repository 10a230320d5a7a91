"""Which boxes to saw from a sheet, and that they can be sawn, against known optima.

Instance and optimum: N. Christofides and C. Whitlock, An algorithm for two-dimensional cutting
problems (Operations Research 25, 1977, 30-44), their first, cgcut1 of J. E. Beasley's OR-Library;
from memory, compared with public copies of it, and recomputed here by a recursion over guillotine
cuts. Small cases: all subsets, all halves and all straight cuts of the plane gone through.
"""

from collections import Counter
from functools import cache
from itertools import combinations
from typing import NamedTuple

import numpy as np
import pytest
import shapes
from divisions import offer_of, stone_at
from hypothesis import given, settings
from hypothesis import strategies as st
from solids import body_of

from optimizer.order import Order
from optimizer.several.cut_tree import cell_walls
from optimizer.several.model import Candidate, Wish
from optimizer.several.selection import Selection
from optimizer.several.separation import separate

SHEET = (15, 10)
OPTIMUM = 244
MARGIN = 0.1  # that a box is smaller all round than its place on the sheet
APART = 1.99 * MARGIN


class Item(NamedTuple):
    """So many at most, each worth so much; not turned."""

    length: int
    width: int
    most: int
    value: int


ITEMS = (
    Item(8, 4, 2, 66), Item(3, 7, 1, 35), Item(8, 2, 3, 24), Item(3, 4, 5, 17), Item(3, 3, 2, 11),
    Item(3, 2, 2, 8), Item(2, 1, 1, 2),
)  # fmt: skip


def candidate(centre, size, worth, wish=0):
    """A box 1 mm deep on the sheet."""
    length, width = size
    offer = offer_of(body_of(shapes.box((length / width, 1.0, 1.0 / width))))
    return Candidate(stone_at(offer, width, (*centre, 0.0), wish=wish), worth)


def corners_of(one):
    return one.stone.placement.mesh().vertices


def chosen_and_separated(pool, wishes, apart_mm):
    """The best choice that can be sawn, and its cut tree; sets proved locked are barred."""
    made, barred = Selection.of(pool, wishes, apart_mm, most=len(pool)), []
    while True:
        choice = made.best(barred)
        assert choice.bound < choice.value + 1.0  # proved the best: all worths are whole numbers
        if not choice.chosen:
            return choice, None
        separation = separate([corners_of(pool[i]) for i in choice.chosen], apart_mm)
        if separation.cut_tree is not None:
            return choice, separation.cut_tree
        assert separation.proved
        barred.append(frozenset(choice.chosen[i] for i in separation.locked))


def clear_of_all(cut_tree, stones, apart_mm):
    """Every stone is alone in the end, half of ``apart_mm`` off each cut."""
    beside = dict(cell_walls(cut_tree, apart_mm / 2.0))
    assert sorted(beside) == list(range(len(stones)))
    for stone, walls in beside.items():
        for wall in walls:
            assert (stones[stone] @ wall.normal).max() <= wall.offset + 1e-9


# --- the literature's instance --------------------------------------------------------------


def most_by_recursion(sheet, items):
    """The most value that guillotine cuts give: for each rectangle, every list of how many of each
    item it can give, put together over all its first cuts."""
    most = np.array([item.most for item in items])

    @cache
    def lists(length, width):
        feasible = [item.length <= length and item.width <= width for item in items]
        found = [np.zeros((1, len(items)), int), np.eye(len(items), dtype=int)[feasible]]
        halves = [((x, width), (length - x, width)) for x in range(1, length // 2 + 1)]
        halves += [((length, y), (length, width - y)) for y in range(1, width // 2 + 1)]
        for one, other in halves:
            sums = np.minimum(lists(*one)[:, None] + lists(*other), most)
            found.append(sums.reshape(-1, len(items)))
        codes = np.ravel_multi_index(np.vstack(found).T, most + 1)
        return np.stack(np.unravel_index(np.unique(codes), most + 1), axis=1)

    return int((lists(*sheet) @ [item.value for item in items]).max())


def test_the_remembered_optimum_is_that_of_the_recursion():
    assert most_by_recursion(SHEET, ITEMS) == OPTIMUM


def everywhere(sheet, items):
    """Each item at every whole-number place of the sheet."""
    return [
        candidate(
            (x + item.length / 2.0, y + item.width / 2.0),
            (item.length - 2.0 * MARGIN, item.width - 2.0 * MARGIN), float(item.value), number,
        )
        for number, item in enumerate(items)
        for x in range(sheet[0] - item.length + 1)
        for y in range(sheet[1] - item.width + 1)
    ]  # fmt: skip


def wishes_for(items):
    return [Wish(str(item), Order(), (), least=0, most=item.most) for item in items]


def test_the_most_from_a_sheet_is_the_guillotine_optimum_of_the_literature():
    pool = everywhere(SHEET, ITEMS)
    choice, cut_tree = chosen_and_separated(pool, wishes_for(ITEMS), APART)
    assert choice.value == pytest.approx(OPTIMUM, abs=1e-6)
    assert choice.bound == pytest.approx(OPTIMUM, abs=1e-3)
    clear_of_all(cut_tree, [corners_of(pool[i]) for i in choice.chosen], APART)
    counts = Counter(pool[i].stone.wish for i in choice.chosen)
    assert all(counts[number] <= item.most for number, item in enumerate(ITEMS))


def test_a_square_full_of_bricks_that_no_cut_parts_gives_less():
    """By hand: four bricks 2 x 1 about a square fill 3 x 3, for 4·4 + 3, but only as a pinwheel; by
    straight cuts one brick is lost."""
    items = (Item(2, 1, 2, 4), Item(1, 2, 2, 4), Item(1, 1, 1, 3))
    pool, wishes = everywhere((3, 3), items), wishes_for(items)
    unparted = Selection.of(pool, wishes, APART, most=len(pool)).best()
    assert unparted.value == pytest.approx(19.0, abs=1e-6)
    choice, _ = chosen_and_separated(pool, wishes, APART)
    assert choice.value == pytest.approx(15.0, abs=1e-6)
    assert most_by_recursion((3, 3), items) == 15


# --- small cases, everything gone through -----------------------------------------------------


def sawable(stones, apart_mm):
    """Which sets of boxes, by their bits, straight cuts of the plane part: every first cut of
    every set is tried.

    Two convex sets in the plane lie farthest apart along the way between two corners or square to
    an edge: these ways of all corners are all that matter.
    """
    flat = [np.unique(np.round(stone[:, :2], 12), axis=0) for stone in stones]
    corners = np.vstack(flat)
    one, other = np.triu_indices(len(corners), 1)
    along = corners[other] - corners[one]
    along /= np.linalg.norm(along, axis=1)[:, None]
    ways = np.unique(np.vstack([along, along[:, ::-1] * (1, -1)]).round(12), axis=0)
    low = np.array([(ways @ stone.T).min(axis=1) for stone in flat])
    high = np.array([(ways @ stone.T).max(axis=1) for stone in flat])

    @cache
    def separation(chosen):
        if len(chosen) < 2:
            return True
        return any(
            separation(below) and separation(tuple(k for k in chosen if k not in below))
            for count in range(1, len(chosen))
            for below in combinations(chosen, count)
            if cut_between(below, [k for k in chosen if k not in below])
        )

    def cut_between(below, above):
        gaps = low[above].min(axis=0) - high[list(below)].max(axis=0)
        return gaps.max() >= apart_mm - 1e-9

    return separation


def best_by_trying_all(pool, apart_mm):
    separation = sawable([corners_of(one) for one in pool], apart_mm)
    return max(
        sum(pool[k].worth for k in chosen)
        for count in range(len(pool) + 1)
        for chosen in combinations(range(len(pool)), count)
        if separation(chosen)
    )


def scattered(seed, count=6):
    """Boxes at random, turned or not, many of them in one another's way."""
    rng = np.random.default_rng(seed)
    return [
        candidate(rng.uniform(0, 4, 2), rng.uniform(0.6, 2.2, 2), float(rng.uniform(1, 5)))
        for _ in range(count)
    ]


def woven(seed):
    """A pinwheel of four bricks, shaken, and two boxes beside it."""
    rng = np.random.default_rng(seed)
    places = [((1, 0.5), (2, 1)), ((2.5, 1), (1, 2)), ((2, 2.5), (2, 1)), ((0.5, 2), (1, 2))]
    places += [((1.5, 1.5), (1, 1)), ((3.6, 1.5), (1, 3))]
    return [
        candidate(
            np.array(centre) + rng.uniform(-0.05, 0.05, 2),
            np.array(size) - 0.3 + rng.uniform(-0.1, 0.1, 2), float(rng.uniform(1, 5)),
        )
        for centre, size in places
    ]  # fmt: skip


@pytest.mark.parametrize("make", [scattered, woven])
@given(seed=st.integers(0, 100_000))
@settings(max_examples=20)
def test_the_best_that_can_be_sawn_is_that_of_trying_all(make, seed):
    pool = make(seed)
    choice, cut_tree = chosen_and_separated(
        pool, [Wish("any", Order(), (), least=0, most=9)], APART
    )
    assert choice.value == pytest.approx(best_by_trying_all(pool, APART), abs=1e-5)
    clear_of_all(cut_tree, [corners_of(pool[i]) for i in choice.chosen], APART)
