"""What an order for several stones asks for, line by line."""

from dataclasses import replace

import numpy as np
import pytest
import shapes
from handmade_plans import rough_of

from optimizer.design import load_design
from optimizer.errors import InputError
from optimizer.mesh import Plane
from optimizer.offers.allowed import allowed_offers
from optimizer.offers.crystal import CLEAVAGE_DEG
from optimizer.offers.least_width import SMALLEST_MM
from optimizer.order import Order
from optimizer.order.demands import DirectionDemand, LookDemand, SizeDemand, ZoneDemand
from optimizer.order.several import LookTolerance, Several, Wanted
from optimizer.rough.model import Colour, Rough, Zone
from optimizer.several.wishes import wishes

VIOLET, YELLOW = Colour("violet", "#8a5cc2"), Colour("yellow", "#e8b83a")
SPLIT = Zone("split", Plane(np.array([1.0, 0.0, 0.0]), 0.0), VIOLET, YELLOW)
WORKABLE = SizeDemand(width_mm=(SMALLEST_MM, np.inf))
ROUGH = replace(rough_of(shapes.box()), zones=(SPLIT,))


def ordered(*wanted: Wanted, rough: Rough = ROUGH, most: int = 8, **said: object):
    return wishes(rough, Order(several=Several(most), wanted=wanted, **said))


def test_an_order_without_a_list_wants_as_many_of_any_design_as_pay():
    (wish,), left_out = wishes(ROUGH, Order(several=Several(5)))
    offers, without = allowed_offers(ROUGH, Order())
    assert [offer.design.name for offer in wish.offers] == [o.design.name for o in offers]
    assert (wish.least, wish.most, wish.pair_mm, wish.first) == (0, 5, None, False)
    assert wish.order == Order(size=WORKABLE)
    assert left_out == without


@pytest.mark.parametrize(
    ("wanted", "counts"),
    [
        (Wanted("a"), (0, 8)),
        (Wanted("a", count=(3, 3)), (3, 3)),
        (Wanted("a", count=(0, 20)), (0, 8)),
        (Wanted("a", first=True, count=(1, 1)), (1, 1)),
        (Wanted("a", pair_mm=0.1), (0, 8)),
        (Wanted("a", pair_mm=0.1, count=(2, 20)), (2, 8)),
    ],
)
def test_counts_stay_below_the_most_in_all(wanted, counts):
    (wish,), _ = ordered(replace(wanted, designs=("oval",)))
    assert (wish.least, wish.most) == counts


def test_an_odd_greatest_count_is_lowered_for_pairs():
    (wish,), _ = ordered(Wanted("a", ("oval",), pair_mm=0.1), most=7)
    assert wish.most == 6


def test_two_stones_of_a_pair_have_the_same_shape():
    given = {
        "parameters": {"crown": (33.0, 37.0)},
        "pair_mm": 0.05,
        "alike": LookTolerance(offset=0.1),
    }
    (wish,), _ = ordered(Wanted("a", ("oval", "pear"), **given))
    assert [offer.freedom for offer in wish.offers] == [None, None]
    assert [offer.parameters["crown"] for offer in wish.offers] == [36.0, 36.0]
    assert (wish.pair_mm, wish.alike) == (0.05, LookTolerance(offset=0.1))
    (single,), _ = ordered(Wanted("a", ("oval",)))
    assert single.offers[0].freedom is not None
    assert single.alike is None


def test_a_line_takes_what_it_does_not_say_from_the_order():
    zone = ZoneDemand("split", "violet", offset=(-0.1, 0.1))
    one = Wanted("a", ("oval",), {"crown": 35.0}, SizeDemand((5.0, 5.0)), 0.3, 4.0, zone)
    said = {
        "designs": ("pear",),
        "parameters": {"length_to_width": 1.5},
        "size": SizeDemand((2.0, 9.0)),
        "direction": DirectionDemand(cleavage_clear_deg=0.0),
    }
    (own, inherited), _ = ordered(one, Wanted("b"), **said)
    assert own.order == Order(
        designs=("oval",), parameters={"crown": 35.0}, size=SizeDemand((5.0, 5.0)),
        least_girdle_mm=0.3, least_girdle_percent=4.0, zone=zone, direction=said["direction"],
    )  # fmt: skip
    assert inherited.order == Order(**said)
    assert own.offers[0].want.width_mm == (5.0, 5.0)
    assert own.offers[0].want.zone == zone
    assert own.offers[0].want.boundary == SPLIT.plane
    assert own.offers[0].parameters["crown"] == 35.0
    assert inherited.offers[0].parameters["length_to_width"] == 1.5
    assert inherited.offers[0].want.zone is None


def test_no_stone_is_narrower_than_two_mm_unless_a_size_is_asked_for():
    (plain, light, small), _ = ordered(
        Wanted("a", ("oval",)),
        Wanted("b", ("oval",), size=SizeDemand(carat=(0.0, 1.0))),
        Wanted("c", ("oval",), size=SizeDemand(width_mm=(1.0, 3.0))),
    )
    assert plain.order.size == WORKABLE
    assert plain.offers[0].want.width_mm == WORKABLE.width_mm
    assert plain.offers[0].freedom.window(plain.offers[0].want.body) == WORKABLE.width_mm
    assert light.offers[0].want.width_mm[0] < SMALLEST_MM
    assert small.offers[0].want.width_mm == (1.0, 3.0)
    (under,), _ = ordered(Wanted("a", ("oval",)), size=SizeDemand(width_mm=(1.0, 9.0)))
    assert under.order.size == SizeDemand(width_mm=(1.0, 9.0))


def test_a_look_brings_its_boundary():
    look = LookDemand("split", "violet", face_percent=(40.0, 60.0))
    (wish,), _ = ordered(Wanted("a", ("oval",), look=look))
    assert wish.order.look == look
    assert wish.offers[0].want.zone == ZoneDemand("split", "violet")


def test_facets_keep_off_known_cleavage_in_every_line():
    rough = replace(ROUGH, cleavage=(np.array([0.0, 0.0, 1.0]),))
    own = DirectionDemand(cleavage_clear_deg=2.0)
    found, _ = ordered(Wanted("a", ("oval",)), Wanted("b", ("oval",), direction=own), rough=rough)
    clear = [np.degrees(wish.offers[0].want.direction.clear) for wish in found]
    assert clear == pytest.approx([CLEAVAGE_DEG, 2.0])


def test_a_suite_has_an_offer_for_each_usual_size():
    (wish,), left_out = ordered(Wanted("a", ("oval",), calibrated=True))
    outline = load_design("oval").outline.calibrated
    sizes = [(size.width_mm, size.length_mm) for size in outline.sizes]
    assert len(wish.offers) == len(sizes)
    for offer, (width, length) in zip(wish.offers, sizes, strict=True):
        low, high = offer.want.width_mm
        assert low == high == pytest.approx(width, rel=1e-7)
        assert offer.want.body.length_at(high) == pytest.approx(length, rel=1e-7)
    assert left_out == ()


def test_a_suite_has_only_sizes_of_the_order_and_designs_with_calibrated_sizes():
    size = SizeDemand((6.0, 8.0), (8.0, 10.0))
    (wish,), left_out = ordered(Wanted("a", calibrated=True), size=size)
    found = {(o.design.name, round(o.want.width_mm[1], 6)) for o in wish.offers}
    assert {("oval", 6.0), ("oval", 7.0), ("oval", 8.0)} <= found
    assert all(6.0 <= width <= 8.0 for _, width in found)
    assert any("long-hexagon has no calibrated sizes" in reason for reason in left_out)
    assert all(reason.startswith('"a": left out: ') for reason in left_out)


@pytest.mark.parametrize(
    ("wanted", "said"),
    [
        (Wanted("a", ("long-hexagon",), calibrated=True), "long-hexagon has no calibrated sizes"),
        (
            Wanted("a", ("oval",), size=SizeDemand((1.0, 2.0)), calibrated=True),
            "no calibrated size of oval meets the order: none lies in its size, 4 × 5 mm to",
        ),
        (Wanted("a", ("ovel",)), 'did you mean "oval"'),
        (Wanted("a", ("oval",), zone=ZoneDemand("rim", "red", 0.0)), 'names the zone "rim"'),
    ],
)
def test_a_line_that_no_design_meets_is_named(wanted, said):
    with pytest.raises(InputError) as caught:
        ordered(wanted)
    assert str(caught.value).startswith('the wanted "a": ')
    assert said in str(caught.value)
