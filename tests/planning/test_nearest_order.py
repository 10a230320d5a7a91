"""How far each demand is relaxed, with stand-ins for the searches: nothing here searches."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import shapes
from handmade_plans import rough_of
from placed_stones import placement_of

from optimizer.mesh import Plane
from optimizer.offers.offer import offers
from optimizer.offers.placement_cache import PlacedOffer, PlacementCache
from optimizer.offers.relaxations import OrderKey, relaxations
from optimizer.order import Order, SizeDemand, Workshop, ZoneDemand
from optimizer.order.demands import DirectionDemand
from optimizer.placement.ground import Ground
from optimizer.placement.model import Placement, Pose
from optimizer.placement.search import Watch
from optimizer.plan_model import OrderChange
from optimizer.planning.demand_figures import figure_of, limits, rounded_out, with_limits
from optimizer.planning.finished import without_a_stone
from optimizer.planning.nearest_order import nearest_orders
from optimizer.planning.relaxation_search import NONE_NEAR, Relaxation, RelaxationSearch
from optimizer.planning.ruled_out import with_reasons
from optimizer.rough.model import Colour, Zone

HALVES = Zone(
    "split",
    Plane(np.array([1.0, 0.0, 0.0]), 0.0),
    towards=Colour("violet", "#8a5cc2"),
    away=Colour("yellow", "#e8b83a"),
)
ROUGH = replace(
    rough_of(shapes.box((20.0, 14.0, 12.0)), (HALVES,)), optic_axis=np.array([0.0, 0.0, 1.0])
)
OVAL = Order(("oval",), parameters={"crown": 36.0, "pavilion": 42.0})
TILT = OrderKey("zone", "tilt_deg")


def stone(width=6.0, turn_deg=0.0, x=0.0) -> PlacedOffer:
    """An oval whose axis is turned from z towards x, about the middle of the box or beside it."""
    (offer,), _ = offers(ROUGH, OVAL)
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    rotation = np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])
    placed = placement_of(offer.want.body, width)
    pose = Pose(width, rotation, np.array([x, 0.0, 0.0]))
    return PlacedOffer(offer, Placement(placed.body, pose, 1.5))


def zone(**asked) -> Order:
    return replace(OVAL, zone=ZoneDemand("split", "violet", **asked))


@pytest.mark.parametrize(
    ("order", "key", "placed", "figure"),
    [
        (replace(OVAL, size=SizeDemand(width_mm=(7.0, 7.0))), "size.width_mm", stone(), 6.0),
        (replace(OVAL, size=SizeDemand(length_mm=(9.0, 9.0))), "size.length_mm", stone(), 7.8),
        (zone(tilt_deg=(0.0, 5.0)), "zone.tilt_deg", stone(turn_deg=30.0), 30.0),
        (zone(azimuth_deg=(170.0, 190.0)), "zone.azimuth_deg", stone(turn_deg=180.0), 180.0),
        (zone(azimuth_deg=(350.0, 355.0)), "zone.azimuth_deg", stone(), 360.0),
        (zone(offset=(0.5, 0.6)), "zone.offset", stone(x=1.0), -1.0 / 3.9),
        (zone(share_percent=(90.0, 100.0)), "zone.share_percent", stone(), 50.0),
        (zone(keep_clear_mm=0.9), "zone.keep_clear_mm", stone(x=4.4), 0.5),
        (zone(keep_clear_mm=0.9), "zone.keep_clear_mm", stone(), None),
        (replace(OVAL, direction=DirectionDemand(axis_to_table_deg=(0.0, 5.0))),
         "direction.axis_to_table_deg", stone(turn_deg=30.0), 60.0),
        (replace(OVAL, least_girdle_mm=0.5), "girdle.least_mm", stone(), 0.2),
        (replace(OVAL, least_girdle_percent=9.0), "girdle.least_percent", stone(), 100.0 / 30.0),
        (OVAL, "workshop.clean_up_mm", stone(), 1.45),
    ],
)  # fmt: skip
def test_the_figure_of_each_demand(order, key, placed, figure):
    """By hand: the oval is 1.3 times as long as wide, and its crown and pavilion lie alike on
    either side of the boundary."""
    found = figure_of(ROUGH, order, OrderKey(*key.split(".")), placed)
    assert found == (figure if figure is None else pytest.approx(figure, rel=1e-3, abs=1e-9))


def test_limits_are_rounded_outwards():
    assert rounded_out(TILT, -3.04, 7.21) == (-3.1, 7.3)
    assert rounded_out(TILT, -3.1, 7.3) == (-3.1, 7.3)
    assert rounded_out(OrderKey("size", "width_mm"), 6.129, np.inf) == (6.12, np.inf)
    order = zone(tilt_deg=(0.0, 10.0))
    assert limits(with_limits(order, TILT, -1.0, 12.0), TILT) == (-1.0, 12.0)
    thin = with_limits(order, OrderKey("girdle", "least_mm"), 0.1, np.inf)
    assert thin == replace(order, least_girdle_mm=0.1)


def found_by(order, works, monkeypatch, relaxed=None, effort="normal", work=1000):
    """The nearest orders where a search finds ``works(order)``, and each order searched. A stone
    was found before for each of the demands ``relaxed``."""
    searched = []

    def best(self, rough, tried, cache):
        searched.append(tried)
        return works(tried)

    monkeypatch.setattr(RelaxationSearch, "best", best)
    alone = [one for one in relaxations(order) if one.keys[0] in (relaxed or {})]
    known = [(Relaxation(*one[:1], ROUGH, *one[1:]), relaxed[one.keys[0]]) for one in alone]
    cache = PlacementCache(None, 0, Watch())
    return nearest_orders(ROUGH, order, effort, RelaxationSearch(work), cache, known), searched


def test_an_angle_is_relaxed_only_as_far_as_the_halvings_find_a_stone(monkeypatch):
    order = zone(tilt_deg=(0.0, 10.0))
    at_33 = stone(turn_deg=33.0)

    def works(tried):
        return at_33 if tried.zone.tilt_deg[1] >= 33.0 else None

    (near,), searched = found_by(order, works, monkeypatch, {TILT: stone(turn_deg=50.0)})
    (change,) = near.changes
    assert (change.table, change.key, change.ordered) == ("zone", "tilt_deg", (0.0, 10.0))
    assert change.works[0] == 0.0
    assert 33.0 <= change.works[1] <= 33.0 + 40.0 / 2**4 + 0.1
    assert len(searched) == 4
    assert near.stones[0].order == replace(order, zone=replace(order.zone, tilt_deg=change.works))


def test_the_nearest_order_asks_for_all_that_the_stone_found_has(monkeypatch):
    """Few halvings leave steps of 12.5°; the stone found lies 1° inside its step."""
    order = zone(tilt_deg=(0.0, 10.0))
    at_39 = stone(turn_deg=39.0)

    def works(tried):
        return at_39 if tried.zone.tilt_deg[1] >= 39.0 else None

    (near,), _ = found_by(order, works, monkeypatch, {TILT: stone(turn_deg=60.0)}, effort="quick")
    assert near.changes[0].works == pytest.approx((0.0, 39.0), abs=0.11)


def test_a_fixed_size_is_the_greatest_at_which_a_search_finds_a_stone(monkeypatch):
    order = replace(OVAL, size=SizeDemand(width_mm=(9.0, 9.0)), workshop=Workshop(clean_up_mm=0.0))
    key = OrderKey("size", "width_mm")

    def works(tried):
        width = tried.size.width_mm[1]
        return stone(width) if width <= 6.2 else None

    (near,), _ = found_by(order, works, monkeypatch, {key: stone(6.2149)})
    works_at = near.changes[0].works
    assert works_at[0] == works_at[1] == near.stones[0].width_mm
    assert works_at[0] == pytest.approx(0.995 * 6.2149, abs=0.011)


def test_the_nearest_comes_first_and_a_demand_left_out_last(monkeypatch):
    size = SizeDemand(width_mm=(9.0, 12.0))
    order = replace(zone(tilt_deg=(0.0, 10.0), keep_clear_mm=0.5), size=size)
    relaxed = {
        OrderKey("size", "width_mm"): stone(3.0),  # two thirds smaller
        OrderKey("zone", "keep_clear_mm"): stone(9.0),  # crossed
        TILT: stone(9.0, turn_deg=19.0),  # a tenth of a right angle more
    }
    near, _ = found_by(order, lambda _: None, monkeypatch, relaxed)
    assert [one.changes[0].key for one in near] == ["tilt_deg", "width_mm", "keep_clear_mm"]
    assert near[-1].changes == (OrderChange("zone", "keep_clear_mm", 0.5, None),)


def test_less_clean_up_is_told_as_what_the_stone_of_the_size_ordered_has_to_spare(monkeypatch):
    order = replace(OVAL, size=SizeDemand(width_mm=(6.0, 9.0)), workshop=Workshop(clean_up_mm=2.0))

    def works(tried):
        return stone(6.0) if tried.workshop.clean_up_mm == 0.0 else None

    (near,), searched = found_by(order, works, monkeypatch)
    assert near.changes == (OrderChange("workshop", "clean_up_mm", 2.0, 1.45),)
    assert searched[0].size.width_mm == (6.0, 6.0)


def test_where_no_demand_stands_in_the_way_alone_as_few_as_possible_are_relaxed(monkeypatch):
    """The tilt and the offset together rule a stone out; the girdle has nothing to do with it."""
    order = zone(tilt_deg=(0.0, 10.0), offset=(0.8, 0.9))
    tilted = stone(turn_deg=30.0)

    def works(tried):
        tilt, offset = tried.zone.tilt_deg, tried.zone.offset
        free = (tilt is None or tilt[1] >= 30.0) and (offset is None or offset[0] <= 0.0)
        return tilted if free else None

    (near,), _ = found_by(order, works, monkeypatch)
    assert {change.key for change in near.changes} == {"tilt_deg", "offset"}
    assert near.stones[0].order.parameters == order.parameters
    assert near.stones[0].order.designs == order.designs


def test_where_nothing_is_found_at_all_nothing_is_told(monkeypatch):
    near, searched = found_by(zone(tilt_deg=(0.0, 10.0)), lambda _: None, monkeypatch)
    assert near == ()
    assert len(searched) == 1


def test_that_no_near_order_was_found_is_said(monkeypatch):
    order = zone(tilt_deg=(0.0, 10.0))
    allowed, _ = offers(ROUGH, order)
    cache = PlacementCache(Ground.of(ROUGH.mesh), 0, Watch())
    bounds = [SimpleNamespace(proved_too_small=False)]
    plan = without_a_stone(ROUGH, order, 0, "quick", None)
    monkeypatch.setattr(RelaxationSearch, "best", lambda *_: None)
    assert with_reasons(plan, cache, allowed, bounds).warnings[-1] == NONE_NEAR
    monkeypatch.setattr(RelaxationSearch, "best", lambda *_: stone(turn_deg=30.0))
    assert NONE_NEAR not in with_reasons(plan, cache, allowed, bounds).warnings
