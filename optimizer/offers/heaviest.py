"""The heaviest stone over all designs that an order allows."""

from collections.abc import Callable, Sequence

from optimizer.errors import InputError
from optimizer.offers.allowed import allowed_offers
from optimizer.offers.look_refinement import with_refined_look
from optimizer.offers.offer import Offer
from optimizer.offers.placement_cache import PlacedOffer, PlacementCache
from optimizer.offers.wanted_look import MARGINS, REGIONS, LookTarget
from optimizer.offers.within_reach import hopeful, within_reach
from optimizer.order import Order, ZoneDemand
from optimizer.placement.model import Placement
from optimizer.rough.model import Rough

MOST_IN_FULL = 3  # designs searched in full where a quick search finds no stone of any
PROMISING = 2  # designs with which a relaxed order is tried
MOST_LOOKED = 6  # designs whose look maps are drawn, the heaviest by a glance
CLOSE_SHARE = 0.95  # of the best of the quick searches: those at least so heavy are searched fully


def best_of(
    rough: Rough, order: Order, cache: PlacementCache, allowed: Sequence[Offer], effort: str
) -> PlacedOffer | None:
    """The heaviest stone that meets the order and its look. A look map of each design, for the
    stone found without the demand on its look, gives the ranges to which the boundary is
    limited."""
    if order.look is None:
        return heaviest(cache, allowed, effort)
    target = LookTarget.of(rough, order.look)
    if target.zone is None:
        return heaviest(cache, allowed, effort, target.met)
    allowed = within_reach(cache, allowed, MOST_LOOKED)
    free = [cache.best(offer, "quick") for offer in allowed]
    for margin in MARGINS:
        narrower = [
            one
            for offer, found in zip(allowed, free, strict=True)
            if found is not None
            for one in target.narrowed(found.placement, offer, margin, REGIONS[effort], cache)
        ]
        best = heaviest(cache, narrower, effort, target.met) if narrower else None
        if best is not None:
            return with_refined_look(target, best, allowed, cache)
        if cache.watch.stop():
            return None
    return None


def heaviest(
    cache: PlacementCache,
    allowed: Sequence[Offer],
    effort: str,
    met: Callable[[Placement], bool] = lambda _: True,
) -> PlacedOffer | None:
    """The heaviest stone over all offers for which ``met`` holds. Of several offers, those that a
    glance does not rule out are searched quickly, and only those near the best of them with the
    whole effort; where the quick searches find none, a few offers that come nearest."""

    def by_weight(chosen: Sequence[Offer], how: str) -> list[PlacedOffer]:
        found = [cache.best(one, how) for one in chosen if not cache.watch.stop()]
        return sorted((one for one in found if one), key=_minus_volume)

    def first(found: Sequence[PlacedOffer]) -> PlacedOffer | None:
        return next((one for one in found if met(one.placement)), None)

    if len(allowed) == 1:
        return first(by_weight(allowed, effort))
    quick = sorted(hopeful(cache, allowed, met), key=_minus_volume)
    best = first(quick)
    if effort == "quick" or cache.watch.stop():
        return best
    least = CLOSE_SHARE * best.placement.volume_mm3 if best else float("inf")
    keys = {
        _key(one.offer)
        for one in quick
        if one.placement.volume_mm3 >= least and (one is best or met(one.placement))
    }
    chosen = [one for one in allowed if _key(one) in keys]
    full = first(by_weight(chosen or within_reach(cache, allowed, MOST_IN_FULL), effort))
    found = [one for one in (full, best) if one is not None]
    return max(found, key=lambda one: one.placement.volume_mm3, default=None)


def _minus_volume(placed: PlacedOffer) -> float:
    return -placed.placement.volume_mm3


def _key(offer: Offer) -> tuple[str, ZoneDemand | None]:
    """What identifies an offer, whatever parameters were chosen."""
    return offer.design.name, offer.want.zone


def quick_best(rough: Rough, order: Order, cache: PlacementCache) -> PlacedOffer | None:
    """A quick search for a relaxed order, which may allow no design at all. Of several designs only
    the most promising by a glance are searched."""
    try:
        allowed, _ = allowed_offers(rough, order)
    except InputError:
        return None
    return best_of(rough, order, cache, within_reach(cache, allowed, PROMISING), "quick")
