"""The heaviest stone over all designs that an order allows."""

from collections.abc import Callable, Sequence

from optimizer.errors import InputError
from optimizer.offers.allowed import allowed_offers
from optimizer.offers.closer_look import closer
from optimizer.offers.offer import Offer
from optimizer.offers.placement_cache import PlacedOffer, PlacementCache
from optimizer.offers.wanted_look import MARGINS, REGIONS, LookTarget
from optimizer.offers.within_reach import within_reach
from optimizer.order import Order, ZoneDemand
from optimizer.placement.model import Placement
from optimizer.rough.model import Rough

MOST_IN_FULL = 3  # of several designs none of which a quick look finds a stone of
PROMISING = 2  # designs that a loosened order is tried with
CLOSE_SHARE = 0.9  # a design this near to the best of a quick look is looked at in full


def best_of(
    rough: Rough, order: Order, lay: PlacementCache, allowed: Sequence[Offer], effort: str
) -> PlacedOffer | None:
    """The heaviest placement that meets the order, its look as well: the map of each design's
    look, for a stone as it would lie without, says in what ranges the boundary may run."""
    if order.look is None:
        return heaviest(lay, allowed, effort)
    aim = LookTarget.of(rough, order.look)
    if aim.zone is None:
        return heaviest(lay, allowed, effort, aim.met)
    free = [lay(offer, "quick") for offer in allowed]
    for margin in MARGINS:
        narrower = [
            one
            for offer, laid in zip(allowed, free, strict=True)
            if laid is not None
            for one in aim.narrowed(laid[1], offer, margin, REGIONS[effort], lay)
        ]
        best = heaviest(lay, narrower, effort, aim.met) if narrower else None
        if best is not None:
            return closer(aim, best, allowed, lay)
        if lay.watch.stop():
            return None
    return None


def heaviest(
    lay: PlacementCache,
    allowed: Sequence[Offer],
    effort: str,
    met: Callable[[Placement], bool] = lambda _: True,
) -> PlacedOffer | None:
    """The heaviest placement over all offers that is also ``met``, and the offer with the
    parameters chosen. Of several offers, all get a quick look and only those near the best of it
    the whole effort; where none is met, a few that come nearest."""

    def tried_by(chosen: Sequence[Offer], how: str) -> list[PlacedOffer]:
        tried = [lay(one, how) for one in chosen if not lay.watch.stop()]
        return sorted((one for one in tried if one), key=lambda one: -one[1].volume_mm3)

    def first(found: Sequence[PlacedOffer]) -> PlacedOffer | None:
        return next((one for one in found if met(one[1])), None)

    if len(allowed) == 1:
        return first(tried_by(allowed, effort))
    quick = tried_by(allowed, "quick")
    best = first(quick)
    if effort == "quick" or lay.watch.stop():
        return best
    least = CLOSE_SHARE * best[1].volume_mm3 if best else float("inf")
    near = [one for one in quick if one[1].volume_mm3 >= least and (one is best or met(one[1]))]
    keys = {_key(offer) for offer, _ in near}
    chosen = [one for one in allowed if _key(one) in keys]
    full = first(tried_by(chosen or within_reach(lay, allowed, MOST_IN_FULL), effort))
    found = [one for one in (full, best) if one is not None]
    return max(found, key=lambda one: one[1].volume_mm3, default=None)


def _key(offer: Offer) -> tuple[str, ZoneDemand | None]:
    """What tells offers apart, whatever parameters were chosen."""
    return offer.design.name, offer.want.zone


def quick_best(rough: Rough, order: Order, lay: PlacementCache) -> PlacedOffer | None:
    """A quick look at a loosened order, which may also fit no design at all: of several designs
    only the most promising by a glance are looked at."""
    try:
        allowed, _ = allowed_offers(rough, order)
    except InputError:
        return None
    return best_of(rough, order, lay, within_reach(lay, allowed, PROMISING), "quick")
