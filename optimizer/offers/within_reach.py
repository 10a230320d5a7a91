"""The offers that come near to the size ordered, by a glance at each, before a full search."""

from collections.abc import Sequence

from optimizer.offers.offer import Offer
from optimizer.offers.placement_cache import PlacementCache

FAR_SHORT = 0.75  # of the least width ordered: a glance seldom falls short by a tenth


def within_reach(cache: PlacementCache, offers: Sequence[Offer], count: int) -> list[Offer]:
    """At most ``count`` of the offers, in their own order. Those with the heaviest stones by a
    glance are preferred, then those of which a glance finds no stone; offers whose stones are far
    too small are left out."""
    if len(offers) <= count:
        return list(offers)
    volumes = [_glanced_volume(cache, offer) for offer in offers]
    ranked = sorted(range(len(offers)), key=lambda k: -volumes[k])
    chosen = [k for k in ranked if volumes[k] >= 0.0][:count]
    return [offers[k] for k in sorted(chosen)]


def _glanced_volume(cache: PlacementCache, offer: Offer) -> float:
    """Volume in mm³ of the stone that a glance finds: 0 where it finds none, which says little, and
    -1 where the stone is far too small."""
    found = cache.glance(offer)
    if found is None:
        return 0.0
    stone = found.placement
    return stone.volume_mm3 if stone.pose.width >= FAR_SHORT * offer.want.width_mm[0] else -1.0
