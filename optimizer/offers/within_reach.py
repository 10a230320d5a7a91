"""Which offers come near to the size ordered, by a glance each, before any is searched in full."""

from collections.abc import Sequence

from optimizer.offers.offer import Offer
from optimizer.offers.placement_cache import PlacementCache

FAR_SHORT = 0.75  # of the least width ordered: a glance seldom misses more than a tenth of a width


def within_reach(lay: PlacementCache, offers: Sequence[Offer], count: int) -> list[Offer]:
    """At most ``count`` of the offers, in their own order: those of the heaviest stones by a
    glance, but for those far too small; then those of which a glance finds no stone."""
    if len(offers) <= count:
        return list(offers)
    promises = [_promise(lay, offer) for offer in offers]
    ranked = sorted(range(len(offers)), key=lambda k: -promises[k])
    chosen = [k for k in ranked if promises[k] >= 0.0][:count]
    return [offers[k] for k in sorted(chosen)]


def _promise(lay: PlacementCache, offer: Offer) -> float:
    """Volume in mm³ of what a glance finds; 0 where it finds nothing, which says little, and -1
    where that is far too small."""
    told = lay.glance(offer)
    if told is None:
        return 0.0
    _, stone = told
    return stone.volume_mm3 if stone.pose.width >= FAR_SHORT * offer.want.width_mm[0] else -1.0
