"""What a length-to-width that the plan holds at the design's usual value would bring if free."""

from dataclasses import replace

import numpy as np

from optimizer.errors import InputError
from optimizer.offers.allowed import allowed_offers
from optimizer.offers.freedom import PROPORTION
from optimizer.offers.heaviest import quick_best
from optimizer.offers.offer import with_free_values
from optimizer.offers.placement_cache import PlacedOffer, PlacementCache
from optimizer.order import Order
from optimizer.placement.shaped import place_freed
from optimizer.plan_model import FreedProportion, Plan, Stone
from optimizer.planning.finished import carat_of


def with_freed_proportion(plan: Plan, cache: PlacementCache) -> Plan:
    """``plan`` with what a quick search about its one stone finds where the length-to-width is free
    over the design's whole range; unchanged where it isn't held at the usual value."""
    (stone,) = plan.stones
    if not plan.holds_usual_proportion(stone):
        return plan
    return replace(plan, stones=(replace(stone, freed=_freed(plan, stone, cache)),))


def _freed(plan: Plan, stone: Stone, cache: PlacementCache) -> FreedProportion:
    order, known = plan.order, stone.design.parameters[PROPORTION]
    own = [path for path, name in zip(order.designs, order.design_names, strict=True)
           if name == stone.design.name]  # fmt: skip
    wider = replace(
        order,
        designs=tuple(own) or (stone.design.name,),
        parameters={**order.parameters, PROPORTION: (known.low, known.high)},
    )
    best = _best_about(plan, stone, wider, cache)
    if best is None:
        return FreedProportion(known.low, known.high, None, None)
    value = best.offer.parameters[PROPORTION]
    return FreedProportion(known.low, known.high, value, carat_of(plan.rough, best.placement))


def _best_about(
    plan: Plan, stone: Stone, order: Order, cache: PlacementCache
) -> PlacedOffer | None:
    """The heaviest stone found for an order that leaves more free than the plan's, whose own stone
    is a start; with a look ordered, by a search of its own."""
    if order.look is not None:
        return quick_best(plan.rough, order, cache)
    try:
        (offer,), _ = allowed_offers(plan.rough, order)
    except InputError:
        return None
    assert offer.freedom is not None  # the length-to-width is free
    values = np.array([stone.parameters[one.name] for one in offer.freedom.family.free])
    choice = place_freed(
        cache.ground, offer.want, offer.freedom, values, stone.placement, cache.seed, cache.watch
    )
    if choice is None:
        return None
    return PlacedOffer(
        with_free_values(offer, choice.values, choice.placement.body), choice.placement
    )
