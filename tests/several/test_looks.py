"""Stones of a wish with a look: each stone kept looks as asked, and others are left out."""

from dataclasses import replace

import numpy as np
import pytest
import shapes
from placed_stones import rough_of

from optimizer.mesh import Plane
from optimizer.offers.placement_cache import PlacementCache
from optimizer.offers.wanted_look import LookTarget
from optimizer.order import LookDemand, Order, SizeDemand, Workshop
from optimizer.order.several import Several, Wanted
from optimizer.placement.ground import Ground
from optimizer.placement.search import QUIET
from optimizer.plan import make_plan
from optimizer.rough.model import Colour, Zone
from optimizer.several.incumbents import feasible
from optimizer.several.instance import Instance
from optimizer.several.looks import with_look_ranges
from optimizer.several.model import Division, PlacedStone
from optimizer.several.wishes import wishes
from optimizer.several.worth import Worth

pytestmark = pytest.mark.usefixtures("small_quick", "coarse_maps")

# A slab with the boundary along its middle: stones side by side can all lie across it.
SPLIT = Zone(
    "split", Plane(np.array([0.0, 1.0, 0.0]), 0.3), Colour("violet", "#8a5cc2"),
    Colour("yellow", "#e8b83a"),
)  # fmt: skip
FIXED = {"crown": 36.0, "pavilion": 42.0}  # as the size is, so that the search is short
LOOK = LookDemand("split", "violet", face_percent=(30.0, 70.0))


@pytest.fixture(scope="module")
def rough():
    return rough_of(shapes.box((20.0, 9.0, 5.0)), (SPLIT,))


@pytest.fixture(scope="module")
def order():
    design, size = ("cut-corner-rectangle",), SizeDemand(width_mm=(3.5, 3.5))
    line = Wanted("pair of colours", design, FIXED, size, look=LOOK, count=(2, 2))
    return Order(several=Several(2), wanted=(line,), workshop=Workshop(most_cuts=0))


@pytest.fixture(scope="module")
def plan(rough, order, small_quick, coarse_maps):
    return make_plan(rough, order, effort="quick")


def test_two_stones_of_a_slab_both_look_as_wished(plan, rough):
    assert len(plan.stones) == 2
    aim = LookTarget.of(rough, LOOK)
    for stone in plan.stones:
        assert 0.3 <= aim.zone_figures(stone.placement).share <= 0.7
    assert sum("looks as ordered" in check for check in plan.audit) == 2


def test_the_offers_are_limited_to_ranges_of_the_boundary(rough, order):
    given, _ = wishes(rough, order)
    cache = PlacementCache(Ground.of(rough.mesh), 0, QUIET)
    (wish,), _, unseen = with_look_ranges(rough, given, cache, "quick")
    assert wish.offers
    assert not unseen
    assert all(None not in (o.want.zone.tilt_deg, o.want.zone.offset) for o in wish.offers)
    never = replace(
        given[0], order=replace(given[0].order, look=replace(LOOK, face_percent=(50.0, 50.0)))
    )
    (none,), _, unseen = with_look_ranges(rough, (never,), cache, "quick")
    assert not none.offers
    assert unseen == (
        'No place of the colour boundary promises the look of the wanted "pair of colours".',
    )


def test_a_division_with_a_stone_that_looks_otherwise_is_infeasible(plan, rough, order):
    given, _ = wishes(rough, order)
    stones = tuple(PlacedStone(0, given[0].offers[0], stone.placement) for stone in plan.stones)
    instance = Instance(Ground.of(rough.mesh), given, Worth(), 2.65, order.workshop)
    assert feasible(instance, Division(stones, 0))
    one = replace(instance, look_met=lambda stone: stone is not stones[1])
    assert not feasible(one, Division(stones, 0))
    assert not feasible(instance, Division(stones[:1], 0))
