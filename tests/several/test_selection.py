"""The choice of candidates, against enumeration of all sets of small pools."""

from functools import cache
from itertools import combinations

import numpy as np
import pytest
from handmade_plans import six_sided_design
from hypothesis import given
from hypothesis import strategies as st
from placed_stones import box_body, placement_of

from optimizer.offers.offer import Offer
from optimizer.order import Order
from optimizer.placement.place import Want
from optimizer.several.cliques import clique_cover
from optimizer.several.model import Candidate, PlacedStone, Wish
from optimizer.several.selection import Selection

APART = 0.5
SEEDS = st.integers(0, 100_000)
DESIGN = six_sided_design()
OFFER = Offer(DESIGN, {}, Want(box_body(), (0.0, np.inf), 0.0))


def wish(least=0, most=9, pair_mm=None):
    return Wish("stones", Order(), (OFFER,), least=least, most=most, pair_mm=pair_mm)


def candidate(at, width=1.0, worth=1.0, number=0):
    return Candidate(PlacedStone(number, OFFER, placement_of(box_body(), width, at)), worth)


def random_pool(seed, wishes, count=10):
    """Blocks that often lie too near one another; worths from 0.01 to 1000."""
    rng = np.random.default_rng(seed)
    return [
        candidate(
            rng.integers(0, 3, 3) * (1.2, 0.9, 0.7),
            float(rng.choice([0.8, 0.85, 1.0])),
            float(np.round(10.0 ** rng.uniform(-2, 3), 2)),
            int(rng.integers(len(wishes))),
        )
        for _ in range(count)
    ]


def boxes_apart(one, other):
    """Between two upright boxes, in closed form."""
    a, b = one.stone.placement.mesh().vertices, other.stone.placement.mesh().vertices
    gaps = np.maximum(a.min(0) - b.max(0), b.min(0) - a.max(0))
    return float(np.linalg.norm(np.maximum(gaps, 0.0)))


def falls_into_pairs(chosen, pool, pair_mm):
    """Whether a set falls into pairs that match, by trying all."""
    if not chosen:
        return True
    first, *rest = chosen
    width = pool[first].stone.placement.pose.width
    return any(
        abs(pool[other].stone.placement.pose.width - width) <= pair_mm
        and falls_into_pairs([i for i in rest if i != other], pool, pair_mm)
        for other in rest
    )


def allowed(chosen, pool, wishes, most, barred):
    if len(chosen) > most or any(set(one) <= set(chosen) for one in barred):
        return False
    if any(boxes_apart(pool[i], pool[j]) < APART - 1e-9 for i, j in combinations(chosen, 2)):
        return False
    for number, asked in enumerate(wishes):
        own = [i for i in chosen if pool[i].stone.wish == number]
        if not asked.least <= len(own) <= asked.most:
            return False
        if asked.pair_mm is not None and not falls_into_pairs(own, pool, asked.pair_mm):
            return False
    return True


def best_by_enumeration(pool, wishes, most, cut, barred):
    values = [
        sum(pool[i].worth for i in chosen) - cut * max(len(chosen) - 1, 0)
        for size in range(len(pool) + 1)
        for chosen in combinations(range(len(pool)), size)
        if allowed(chosen, pool, wishes, most, barred)
    ]
    return max(values, default=None)


@given(
    SEEDS,
    st.sampled_from([
        (wish(),), (wish(least=2, most=3),), (wish(most=1), wish(least=1)),
        (wish(most=4, pair_mm=0.06), wish()), (wish(least=2, pair_mm=0.06),),
    ]),
    st.integers(1, 6),
    st.sampled_from([0.0, 5.0]),
    st.booleans(),
)  # fmt: skip
def test_the_best_set_is_that_of_enumeration(seed, wishes, most, cut, bars):
    pool = random_pool(seed, wishes)
    selection = Selection.of(pool, wishes, APART, most=most, cut=cut)
    barred = []
    for _ in range(3 if bars else 1):  # each time the last choice is barred
        choice = selection.best(barred)
        value = best_by_enumeration(pool, wishes, most, cut, barred)
        if value is None:
            assert choice is None
            return
        assert allowed(choice.chosen, pool, wishes, most, barred)
        assert choice.value == pytest.approx(value, abs=1e-4)
        assert choice.value <= choice.bound <= choice.value + 1e-4
        if not choice.chosen:
            return
        barred.append(frozenset(choice.chosen))


@given(SEEDS, st.floats(0.05, 0.9))
def test_cliques_are_cliques_and_cover_all_edges(seed, density):
    rng = np.random.default_rng(seed)
    upper = np.triu(rng.random((25, 25)) < density, 1)
    near = upper | upper.T
    covered = np.zeros_like(near)
    for clique in clique_cover(near):
        inside = near[np.ix_(clique, clique)]
        assert (inside | np.eye(len(clique), dtype=bool)).all()
        assert not near[clique].all(axis=0).any()  # none more is near to all of it
        covered[np.ix_(clique, clique)] = True
    np.testing.assert_array_equal(near, covered & ~np.eye(25, dtype=bool))


@cache
def large():
    rng = np.random.default_rng(5)
    widths = rng.uniform(1.0, 4.0, 150)
    pool = [candidate(rng.uniform(0, 12, 3), float(w), float(w**3)) for w in widths]
    return Selection.of(pool, (wish(most=150),), APART, most=20)


def test_the_same_pool_gives_the_same_choice_and_a_hint_makes_it_no_worse():
    first = large().best(work=0.5)
    assert large().best(work=0.5) == first
    hinted = large().best(hint=first.chosen, work=0.05)
    assert hinted.value >= first.value - 1e-6
    assert first.bound >= hinted.value


def test_a_stop_ends_the_choice():
    asked = []
    choice = large().best(work=1e9, stop=lambda: bool(asked.append(1)) or len(asked) > 1)
    assert choice is None or choice.bound >= choice.value


def test_an_empty_pool_has_no_stones():
    choice = Selection.of((), (wish(),), APART, most=5).best()
    assert choice is not None
    assert choice.chosen == ()
    assert Selection.of((), (wish(least=1),), APART, most=5).best() is None
