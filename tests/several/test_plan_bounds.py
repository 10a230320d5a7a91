"""Bounds on plans for several stones, against closed forms and figures worked out by hand."""

from dataclasses import replace

import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st
from placed_stones import rough_of

from optimizer.offers.offer import offers
from optimizer.order import Order, SizeDemand, Workshop
from optimizer.order.several import Price
from optimizer.placement.ground import Ground
from optimizer.several.instance import Instance
from optimizer.several.model import Wish
from optimizer.several.plan_bounds import COUNTS, TOGETHER, best_price, single_stone_bounds
from optimizer.several.plan_bounds import plan_weight_bound as bound_of
from optimizer.several.plan_bounds import plan_worth_bound as worth_of
from optimizer.several.shared_room import BY_VOLUME
from optimizer.several.worth import Worth

ROUGH = rough_of(shapes.box((20.0, 12.0, 8.0)))
GROUND = Ground.of(ROUGH.mesh)
SMALL = Order(designs=("oval",), size=SizeDemand(width_mm=(2.0, 3.0)))


def instance(*wishes, worth=None):
    return Instance(GROUND, wishes, worth or Worth(), 2.65, Workshop())


def wish(order, most, name="stones"):
    """With the usual angles alone."""
    usual = tuple(replace(offer, freedom=None) for offer in offers(ROUGH, order)[0])
    return Wish(name, order, usual, least=0, most=most)


def plan_weight_bound(instance, rough, most):
    return bound_of(instance, rough, most, single_stone_bounds(instance))[0]


def plan_worth_bound(instance, rough, most):
    return worth_of(instance, rough, most, single_stone_bounds(instance)).worth


def greatest_of(order):
    """Of the stone of the greatest width ordered, by its own body."""
    offer = offers(ROUGH, order)[0][0]
    return offer.want.body.volume_at(offer.want.width_mm[1]) * 2.65 / 200.0


def test_small_stones_are_bounded_by_their_sizes_and_number():
    at_most = 3.0 * greatest_of(SMALL)
    assert plan_weight_bound(instance(wish(SMALL, 3)), ROUGH, 8).carat == pytest.approx(
        at_most, rel=1e-9
    )
    assert plan_weight_bound(instance(wish(SMALL, 8)), ROUGH, 3).carat == pytest.approx(
        at_most, rel=1e-9
    )
    two = plan_weight_bound(instance(wish(SMALL, 1), wish(SMALL, 2, "others")), ROUGH, 8)
    assert two.carat == pytest.approx(at_most, rel=1e-9)


def test_without_kerfs_many_stones_are_bounded_by_the_rough_less_its_skin():
    no_saw = Workshop(kerf_mm=0.0, saw_error_mm=0.0, clean_up_mm=0.0)
    ovals = replace(instance(wish(Order(designs=("oval",)), 40)), workshop=no_saw)
    found, _ = bound_of(ovals, ROUGH, 40, single_stone_bounds(ovals))
    assert found.carat == pytest.approx(19.5 * 11.5 * 7.5 * 2.65 / 200.0, rel=0.08)  # less the skin


def test_the_share_of_the_kerfs_lowers_the_bound():
    ovals = instance(wish(Order(designs=("oval",)), 40))
    found, because = bound_of(ovals, ROUGH, 40, single_stone_bounds(ovals))
    assert found.carat < 0.95 * ROUGH.carat
    assert because == BY_VOLUME
    assert TOGETHER in found.uses
    assert TOGETHER not in found.ignores


def test_one_stone_is_bounded_as_it_is_by_itself():
    one = plan_weight_bound(instance(wish(Order(designs=("oval",)), 1)), ROUGH, 8).carat
    assert one < 0.9 * ROUGH.carat
    assert one == plan_weight_bound(instance(wish(Order(designs=("oval",)), 8)), ROUGH, 1).carat


def test_the_bound_says_what_it_covers_uses_and_leaves_out():
    bound = plan_weight_bound(
        instance(wish(SMALL, 3), wish(Order(designs=("pear",)), 1, "drop")), ROUGH, 8
    )
    assert bound.covers["designs"] == ["oval", "pear"]
    assert set(bound.covers["parameters"]) == {"stones: oval", "drop: pear"}
    assert COUNTS in bound.uses
    assert TOGETHER in bound.ignores
    assert "the greatest size ordered" in bound.ignores  # one of the two has none


STEPS = st.lists(
    st.tuples(st.floats(0.0, 20.0), st.floats(0.0, 500.0)), min_size=1, max_size=4,
    unique_by=lambda step: step[0],
)  # fmt: skip


@given(STEPS, st.floats(0.05, 30.0), st.floats(0.001, 1.0))
def test_no_lighter_stone_has_a_better_price_per_carat(steps, carat, share):
    worth = Worth("money", (Price(tuple(sorted(steps))),))
    design = offers(ROUGH, SMALL)[0][0].design
    weight = share * carat
    assert worth.of(design, weight) / weight <= best_price(worth, design, carat) * (1 + 1e-12)


def test_money_is_bounded_by_price_and_number_less_the_cuts():
    worth = Worth("money", (Price(((0.0, 10.0), (1000.0, 90.0))),), cut_cost=0.25)
    few = instance(wish(SMALL, 3), worth=worth)
    expected = 30.0 * greatest_of(SMALL) - 0.5
    assert plan_worth_bound(few, ROUGH, 8) == pytest.approx(expected, rel=1e-9)
    many = instance(wish(Order(designs=("oval",)), 8), worth=replace(worth, cut_cost=0.0))
    by_weight = plan_weight_bound(many, ROUGH, 8).carat
    assert plan_worth_bound(many, ROUGH, 8) == pytest.approx(10.0 * by_weight, rel=1e-9)


def test_by_carats_the_bounds_on_worth_and_weight_are_equal():
    here = instance(wish(SMALL, 3), wish(Order(designs=("pear",)), 1, "drop"))
    assert plan_worth_bound(here, ROUGH, 8) == pytest.approx(
        plan_weight_bound(here, ROUGH, 8).carat, rel=1e-12
    )
