"""A stone that meets the ordered look inside a box of angles climbs on without that box, as long as
its face truly shows what is ordered."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optimizer.offers.offer import Offer, with_free_values
from optimizer.offers.placement_cache import PlacedOffer, PlacementCache
from optimizer.offers.wanted_look import LookTarget
from optimizer.placement.near import place_near
from optimizer.placement.shaped import place_shaped_near

ROUNDS = 3  # each begins where the one before ended
PAYS = 1e-3  # of the weight: a round that gains less is the last
SPARE = 5e-4  # of a share: margin of each bound for the error of the cubics


def with_refined_look(
    target: LookTarget, start: PlacedOffer, allowed: Sequence[Offer], cache: PlacementCache
) -> PlacedOffer:
    """The heaviest stone with the ordered look that climbs from ``start`` reach. The demand on the
    look is evaluated near the stone, in place of the box in which it was found."""
    asked = next(one for one in allowed if one.design is start.offer.design)
    best, here = start, start
    for _ in range(ROUNDS):
        if cache.watch.stop() or here.placement.pose.width >= here.offer.want.width_mm[1]:
            break
        found = _climbed(target, here, asked, cache)
        if found is None:
            break
        gained = found.placement.volume_mm3 / best.placement.volume_mm3 - 1.0
        here = found
        if target.met(found.placement):
            if gained > 0.0:
                best = found
            if gained < PAYS:
                break
    return best


def _climbed(
    target: LookTarget, start: PlacedOffer, asked: Offer, cache: PlacementCache
) -> PlacedOffer | None:
    offer, there = start
    shown = target.shown(there, SPARE)
    offer = replace(offer, want=replace(offer.want, zone=asked.want.zone, shown=shown))
    if offer.freedom is None:
        placement = place_near(cache.ground, offer.want, there, cache.watch)
        return None if placement is None else PlacedOffer(offer, placement)
    family = offer.freedom.family
    values = np.array([offer.parameters[one.name] for one in family.free])
    choice = place_shaped_near(cache.ground, offer.want, offer.freedom, values, there, cache.watch)
    if choice is None:
        return None
    chosen = with_free_values(offer, choice.values, choice.placement.body)
    return PlacedOffer(chosen, choice.placement)
