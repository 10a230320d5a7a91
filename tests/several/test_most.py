"""What no plan for several stones passes: against plans known by closed form, and by hand."""

from dataclasses import replace

import pytest
import shapes
from hypothesis import given
from hypothesis import strategies as st
from laid_stones import rough_of

from optimizer.offers.offer import offers
from optimizer.order import Order, SizeDemand, Workshop
from optimizer.order.several import Price
from optimizer.placement.ground import Ground
from optimizer.several.joined import Site
from optimizer.several.model import Wish
from optimizer.several.most import COUNTS, TOGETHER, alone, best_paid
from optimizer.several.most import most_of as bound_of
from optimizer.several.most import most_worth as worth_of
from optimizer.several.worth import Worth

ROUGH = rough_of(shapes.box((20.0, 12.0, 8.0)))
GROUND = Ground.of(ROUGH.mesh)
SMALL = Order(designs=("oval",), size=SizeDemand(width_mm=(2.0, 3.0)))


def site(*wishes, worth=None):
    return Site(GROUND, wishes, worth or Worth(), 2.65, Workshop())


def wish(order, most, name="stones"):
    """With the usual angles alone."""
    usual = tuple(replace(offer, freedom=None) for offer in offers(ROUGH, order)[0])
    return Wish(name, order, usual, least=0, most=most)


def most_of(site, rough, most):
    return bound_of(site, rough, most, alone(site))


def most_worth(site, rough, most):
    return worth_of(site, rough, most, alone(site))


def greatest_of(order):
    """Of the stone of the greatest width ordered, by its own body."""
    offer = offers(ROUGH, order)[0][0]
    return offer.want.body.volume_at(offer.want.width_mm[1]) * 2.65 / 200.0


def test_small_stones_are_bounded_by_their_sizes_and_number():
    at_most = 3.0 * greatest_of(SMALL)
    assert most_of(site(wish(SMALL, 3)), ROUGH, 8).carat == pytest.approx(at_most, rel=1e-9)
    assert most_of(site(wish(SMALL, 8)), ROUGH, 3).carat == pytest.approx(at_most, rel=1e-9)
    two = most_of(site(wish(SMALL, 1), wish(SMALL, 2, "others")), ROUGH, 8)
    assert two.carat == pytest.approx(at_most, rel=1e-9)


def test_many_stones_are_bounded_by_the_roughs_weight():
    ovals = site(wish(Order(designs=("oval",)), 40))
    assert most_of(ovals, ROUGH, 40).carat == pytest.approx(ROUGH.carat)


def test_one_stone_is_bounded_as_it_is_by_itself():
    one = most_of(site(wish(Order(designs=("oval",)), 1)), ROUGH, 8).carat
    assert one < 0.9 * ROUGH.carat
    assert one == most_of(site(wish(Order(designs=("oval",)), 8)), ROUGH, 1).carat


def test_the_bound_says_what_it_covers_uses_and_leaves_out():
    bound = most_of(site(wish(SMALL, 3), wish(Order(designs=("pear",)), 1, "drop")), ROUGH, 8)
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
def test_no_lighter_stone_is_paid_more_for_each_carat(steps, carat, share):
    worth = Worth("money", (Price(tuple(sorted(steps))),))
    design = offers(ROUGH, SMALL)[0][0].design
    weight = share * carat
    assert worth.of(design, weight) / weight <= best_paid(worth, design, carat) * (1 + 1e-12)


def test_money_is_bounded_by_price_and_number_less_the_cuts():
    worth = Worth("money", (Price(((0.0, 10.0), (1000.0, 90.0))),), cut_cost=0.25)
    few = site(wish(SMALL, 3), worth=worth)
    expected = 30.0 * greatest_of(SMALL) - 0.5
    assert most_worth(few, ROUGH, 8) == pytest.approx(expected, rel=1e-9)
    many = site(wish(Order(designs=("oval",)), 8), worth=replace(worth, cut_cost=0.0))
    assert most_worth(many, ROUGH, 8) == pytest.approx(10.0 * ROUGH.carat, rel=1e-9)


def test_by_carats_worth_and_weight_are_bounded_alike():
    here = site(wish(SMALL, 3), wish(Order(designs=("pear",)), 1, "drop"))
    assert most_worth(here, ROUGH, 8) == pytest.approx(most_of(here, ROUGH, 8).carat, rel=1e-12)
