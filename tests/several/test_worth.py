"""Worth in carats and in money, worked out by hand."""

import pytest

from optimizer.design import load_design
from optimizer.order import Order
from optimizer.order.several import Price, Several
from optimizer.several.worth import Worth, worth_of

OVAL, PEAR, HEXAGON = map(load_design, ("oval", "pear", "long-hexagon"))
OVALS = Price(((0.0, 20.0), (1.0, 45.0), (2.5, 80.0)), design="oval")
PEARS = Price(((0.5, 30.0), (1.5, 50.0)), outline="pear")
ANY = Price(((0.0, 10.0),))
MONEY = Worth("money", (ANY, PEARS, OVALS), 12.5, "EUR")


def test_by_default_a_stone_is_worth_its_carats_and_a_cut_costs_nothing():
    worth = Worth()
    assert (worth.of(OVAL, 1.7), worth.cut, worth.kind, worth.unit) == (1.7, 0.0, "carat", "ct")
    assert worth.money_of(OVAL, 1.7) is None
    assert worth.next_break(OVAL, 0.2) is None


@pytest.mark.parametrize(
    ("design", "carat", "money"),
    [
        (OVAL, 0.99, 19.8),  # 0.99 ct at 20
        (OVAL, 1.0, 45.0),  # the break itself is in the upper step
        (OVAL, 2.0, 90.0),
        (OVAL, 3.0, 240.0),
        (PEAR, 0.4, 0.0),  # lighter than anybody buys
        (PEAR, 0.5, 15.0),
        (PEAR, 2.0, 100.0),
        (HEXAGON, 2.0, 20.0),  # as any stone
    ],
)
def test_money_by_design_before_outline_before_any_stone(design, carat, money):
    assert MONEY.money_of(design, carat) == pytest.approx(money, rel=1e-15)
    assert MONEY.of(design, carat) == pytest.approx(money, rel=1e-15)


def test_a_stone_without_a_price_is_worth_no_money():
    worth = Worth("money", (OVALS, PEARS))
    assert worth.money_of(HEXAGON, 2.0) is None  # of no outline that is traded by one
    assert [worth.covers(one) for one in (OVAL, PEAR, HEXAGON)] == [True, True, False]


@pytest.mark.parametrize(
    ("carat", "last", "following"),
    [(0.5, 0.0, 1.0), (0.9999, 0.0, 1.0), (1.0, 1.0, 2.5), (2.4, 1.0, 2.5), (2.5, 2.5, None)],
)
def test_price_breaks_below_and_above_a_weight(carat, last, following):
    assert MONEY.last_break(OVAL, carat) == last
    assert MONEY.next_break(OVAL, carat) == following


def test_price_breaks_count_only_where_plans_are_compared_by_money():
    by_carat = Worth("carat", (OVALS,), 5.0, "EUR")
    assert by_carat.next_break(OVAL, 0.5) is None
    assert by_carat.last_break(OVAL, 2.0) == 0.0
    assert by_carat.money_of(OVAL, 2.0) == 90.0  # what a card shows beside the carats
    assert (by_carat.cut, by_carat.unit) == (0.0, "ct")


def order(aim: str, *prices: Price) -> Order:
    return Order(several=Several(8, aim, 12.5, "EUR"), prices=prices)


def test_an_order_that_aims_at_money_is_compared_by_money():
    worth, warnings = worth_of(order("money", OVALS, PEARS), [OVAL, PEAR, OVAL])
    assert worth == Worth("money", (OVALS, PEARS), 12.5, "EUR")
    assert (worth.cut, worth.unit) == (12.5, "EUR")
    assert warnings == ()


def test_one_design_without_a_price_makes_carats_count_and_is_named():
    worth, (warning,) = worth_of(order("money", OVALS), [PEAR, OVAL, HEXAGON, PEAR])
    assert worth == Worth("carat", (OVALS,), 12.5, "EUR")
    assert worth.of(OVAL, 1.5) == worth.of(PEAR, 1.5) == 1.5
    assert "has none for pear, long-hexagon: plans are judged by carats" in warning
    worth, (warning,) = worth_of(order("money"), [OVAL])
    assert worth.kind == "carat"


def test_an_order_that_aims_at_carats_ignores_prices():
    worth, warnings = worth_of(order("carats", OVALS), [OVAL, PEAR])
    assert (worth.kind, warnings) == ("carat", ())
    assert worth_of(Order(), [OVAL]) == (Worth(), ())
