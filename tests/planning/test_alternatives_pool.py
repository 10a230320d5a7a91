"""Alternatives out of what was laid on the way to the plan; each offer is laid once."""

from dataclasses import dataclass

import pytest
import shapes
from handmade_plans import rough_of

from optimizer.design import load_design
from optimizer.offers import placement_cache
from optimizer.offers.offer import offers
from optimizer.offers.placement_cache import PlacedOffer, PlacementCache
from optimizer.optics.figures import LightFigures, ZoneFigures
from optimizer.order import LookDemand, Order
from optimizer.placement.search import Watch
from optimizer.planning.look_wishes import LookBaseline, LookWish

DIM, BRIGHT = LightFigures(0.5, 0.1, 0.1, 0.5), LightFigures(0.7, 0.1, 0.1, 0.5)
ZONE = ZoneFigures(0.5, (0.5, 0.5), (0.5, 0.5))


@dataclass(frozen=True)
class Laid:
    """What the front reads of a placement."""

    volume_mm3: float
    light: LightFigures = DIM


class Aim:
    def figures(self, laid):
        return laid.light, ZONE


def told(volume, light=DIM):
    return PlacedOffer("offer", Laid(volume, light))


PLAN, SMALL, LARGE = told(100.0), told(90.0, BRIGHT), told(120.0)
BRIGHTER = LookWish("brighter", Order(look=LookDemand(light_return_percent=60.0)), "brighter")
HEAVIER = LookWish("heavier", Order(), "heavier")


def front(*stones):
    cache = PlacementCache(None, 0, Watch())
    for number, one in enumerate((*stones, None)):
        cache.placed["quick", number] = one
    return LookBaseline.of(PLAN, Aim(), cache)


@pytest.mark.parametrize(
    ("wish", "searched", "found"),
    [
        (BRIGHTER, None, SMALL),
        (BRIGHTER, told(80.0, BRIGHT), SMALL),
        (BRIGHTER, told(95.0, BRIGHT), "searched"),
        (HEAVIER, None, LARGE),
        (HEAVIER, told(130.0), "searched"),
    ],
)
def test_the_heaviest_of_the_search_and_of_what_was_laid(wish, searched, found):
    best = front(PLAN, SMALL, LARGE).best(wish, searched)
    assert best is (searched if found == "searched" else found)


def test_nothing_is_had_where_nothing_meets_the_wish():
    assert front(PLAN, LARGE).best(BRIGHTER, None) is None
    assert front(PLAN, SMALL).best(HEAVIER, told(99.0)) is None


def test_an_offer_is_laid_once_an_effort_and_angles_tell_offers_apart(monkeypatch):
    done = []
    monkeypatch.setattr(
        placement_cache, "place_offer", lambda _, offer, effort, *rest: done.append(effort)
    )
    cache = PlacementCache(None, 0, Watch())
    design = load_design("long-hexagon")
    known = design.parameters["crown"]
    made = [
        _offer({"crown": crown, "pavilion": 42.0}) for crown in (known.low, known.high, known.low)
    ]
    for offer in made:
        cache.best(offer, "quick")
    cache.best(made[0], "normal")
    assert done == ["quick", "quick", "normal"]
    assert cache.stones() == []


def _offer(parameters):
    (offer,), _ = offers(
        rough_of(shapes.ellipsoid()), Order(("long-hexagon",), parameters=parameters)
    )
    return offer
