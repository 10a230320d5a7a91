"""Which offers are searched in full, with stand-ins for the stones: nothing here searches."""

from dataclasses import replace

import numpy as np
import pytest
import shapes
from handmade_plans import rough_of
from placed_stones import placement_of

from optimizer.offers import offer, placement_cache
from optimizer.offers.heaviest import MOST_IN_FULL, heaviest, quick_best
from optimizer.offers.offer import offers
from optimizer.offers.placement_cache import GLANCES, PlacedOffer, PlacementCache
from optimizer.offers.within_reach import FAR_SHORT, HOPE, hopeful, passed_over, within_reach
from optimizer.order import Order
from optimizer.order.demands import SizeDemand
from optimizer.placement.search import Watch
from optimizer.planning.relaxation_search import RelaxationSearch, single_relaxations

WIDTHS = {
    "cushion": 9.0, "cut-corner-rectangle": 5.0, "long-hexagon": 8.0, "oval": 10.0, "pear": None,
    "round-brilliant": 7.0,
}  # fmt: skip
ROUGH = rough_of(shapes.box((12.0, 12.0, 12.0)))
LARGE = Order(size=SizeDemand(width_mm=(12.0, 20.0)))  # more than any of these is


@pytest.fixture
def done(monkeypatch):
    """Every search that was made: its design, its effort, and the least width asked for. Glances
    find stones of these widths; no other search finds any."""
    searches = []
    monkeypatch.setattr(offer, "designs_to_choose_from", lambda: tuple(WIDTHS))

    def place_offer(_, asked, effort, *__):
        low, high = asked.want.width_mm
        searches.append((asked.design.name, effort, low))
        width = WIDTHS[asked.design.name] if effort == "glance" else None
        if width is None:
            return None
        return PlacedOffer(asked, placement_of(asked.want.body, min(width, high)))

    monkeypatch.setattr(placement_cache, "place_offer", place_offer)
    return searches


def new_cache(most=np.inf):
    return PlacementCache(None, 0, Watch(), most)


def names(chosen):
    return [offer.design.name for offer in chosen]


def test_an_offer_far_too_small_by_a_glance_is_not_searched_further(done):
    allowed, _ = offers(ROUGH, LARGE)
    assert names(within_reach(new_cache(), allowed, 5)) == ["cushion", "oval", "pear"]
    assert all(low < 1.0 for _, _, low in done)  # whatever size is ordered
    loose, _ = offers(ROUGH, replace(LARGE, size=SizeDemand(width_mm=(0.0, 20.0))))
    two = within_reach(new_cache(), loose, 2)
    volumes = {o.design.name: o.want.body.volume_at(WIDTHS[o.design.name] or 0.0) for o in loose}
    assert names(two) == sorted(sorted(volumes, key=lambda name: -volumes[name])[:2])
    assert pytest.approx(WIDTHS["cushion"]) == FAR_SHORT * 12.0


def test_of_few_offers_none_is_left_out_or_glanced_at(done):
    allowed, _ = offers(ROUGH, replace(LARGE, designs=("oval", "pear")))
    assert names(within_reach(new_cache(), allowed, 2)) == ["oval", "pear"]
    assert done == []


def test_where_quick_searches_find_nothing_only_a_few_designs_are_searched_in_full(done):
    allowed, _ = offers(ROUGH, LARGE)
    assert heaviest(new_cache(), allowed, "thorough") is None
    full = [name for name, effort, _ in done if effort == "thorough"]
    assert full == ["cushion", "oval", "pear"]
    assert len(full) == MOST_IN_FULL


def test_offers_that_can_not_win_are_glanced_at_and_not_searched(monkeypatch):
    """A search of each would give 1.1 times the volume of its glance."""
    searched = []
    monkeypatch.setattr(offer, "designs_to_choose_from", lambda: tuple(WIDTHS))

    def place_offer(_, asked, effort, *__):
        width = WIDTHS[asked.design.name]
        if effort != "glance":
            searched.append(asked.design.name)
        if width is None:
            return None
        more = 1.0 if effort == "glance" else 1.1 ** (1.0 / 3.0)
        return PlacedOffer(asked, placement_of(asked.want.body, more * width))

    monkeypatch.setattr(placement_cache, "place_offer", place_offer)
    allowed, _ = offers(ROUGH, Order())
    glanced = {o.design.name: o.want.body.volume_at(WIDTHS[o.design.name] or 0.0) for o in allowed}
    cache = new_cache()
    found = list(hopeful(cache, allowed, lambda _: True))
    best = max(1.1 * volume for volume in glanced.values())
    hope = {name for name, volume in glanced.items() if HOPE * volume >= best}
    assert set(searched) == hope | {"pear"}  # of which a glance says nothing
    assert {one.offer.design.name for one in found} == hope
    assert set(names(passed_over(cache, allowed))) == set(WIDTHS) - hope - {"pear"}
    assert 0 < len(hope) < len(WIDTHS) - 1

    searched.clear()
    heaviest_name = max(glanced, key=glanced.__getitem__)
    unmet = [o.want.body for o in allowed if o.design.name == heaviest_name]
    list(hopeful(new_cache(), allowed, lambda placement: placement.body is not unmet[0]))
    assert len(searched) > len(hope) + 1  # where the heaviest is not as ordered, more can win


def test_the_work_of_a_cache_is_limited(done):
    """Each search counts as work, and none begins once the work is spent; a known result costs
    nothing."""
    allowed, _ = offers(ROUGH, replace(LARGE, size=SizeDemand()))
    cache = new_cache(most=2.0 * GLANCES["quick"])
    for one in allowed:
        cache.best(one, "quick")
    cache.best(allowed[0], "quick")
    assert len(done) == 2
    assert cache.work == 2 * GLANCES["quick"]


def test_glances_are_limited_by_the_same_work(done):
    allowed, _ = offers(ROUGH, replace(LARGE, size=SizeDemand()))
    cache = new_cache(most=1.0)
    assert [cache.glance(one) is None for one in allowed[:3]][1:] == [True, True]
    assert len(done) == 1


def test_relaxations_share_their_work_and_those_not_tried_are_named(done):
    looser = single_relaxations(ROUGH, LARGE)
    assert len(looser) == 2  # the width, and the girdle in mm
    reasons = RelaxationSearch(work=1)
    assert list(reasons.stones_found(looser, ROUGH, LARGE, new_cache())) == []
    assert reasons.untried == [one.sentence for one in looser]  # the first was cut short
    (line,) = reasons.untried_line()
    assert looser[1].sentence in line
    sparing = RelaxationSearch(work=10, kept=10)  # for the nearest orders
    assert list(sparing.stones_found(looser, ROUGH, LARGE, new_cache())) == []
    assert (len(sparing.untried), sparing.work) == (2, 10)
    sparing.best(ROUGH, LARGE, new_cache())
    assert sparing.work < 10
    whole = RelaxationSearch(work=1000)
    list(whole.stones_found(looser, ROUGH, LARGE, new_cache()))
    assert whole.untried_line() == ()
    assert whole.work < 1000


def test_orders_that_differ_in_more_than_their_look_share_no_stones(done):
    looser = single_relaxations(ROUGH, LARGE)
    cache = new_cache()
    list(RelaxationSearch(work=1000).stones_found(looser, ROUGH, LARGE, cache))
    assert cache.work == 0


def test_a_relaxed_order_is_tried_with_the_most_promising_designs(done):
    quick_best(ROUGH, LARGE, new_cache())
    assert [name for name, effort, _ in done if effort == "quick"] == ["cushion", "oval"]
