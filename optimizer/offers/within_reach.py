"""The offers worth a search, by a glance at each: those that come near to the size ordered, and
those that can still be the heaviest."""

from collections.abc import Callable, Iterator, Sequence
from math import inf

from optimizer.offers.offer import Offer
from optimizer.offers.placement_cache import PlacedOffer, PlacementCache
from optimizer.placement.model import Placement

FAR_SHORT = 0.75  # of the least width ordered: a glance seldom falls short by a tenth
FEW = 3  # so many offers are all searched, without a glance
# A search gave at most 1.19 times the volume of a glance, with free angles, over 37 designs in each
# piece of benchmarks/many_designs.py.
HOPE = 1.2


def hopeful(
    cache: PlacementCache, offers: Sequence[Offer], met: Callable[[Placement], bool]
) -> Iterator[PlacedOffer]:
    """The stones that quick searches find, the most promising offer first. An offer is passed over
    when ``HOPE`` times the volume of its glance is less than that of a stone already found for
    which ``met`` holds."""
    if len(offers) <= FEW:
        ranked = [(inf, offer) for offer in offers]
    else:
        glances = [(_glanced_volume(cache, one), one) for one in offers if not cache.watch.stop()]
        ranked = [(volume or inf, offer) for volume, offer in glances if volume >= 0.0]
        ranked.sort(key=lambda ranked: -ranked[0])
    best = 0.0
    for volume, offer in ranked:
        if cache.watch.stop() or HOPE * volume < best:
            return
        found = cache.best(offer, "quick")
        if found is not None:
            if found.placement.volume_mm3 > best and met(found.placement):
                best = found.placement.volume_mm3
            yield found


def passed_over(cache: PlacementCache, offers: Sequence[Offer]) -> list[Offer]:
    """The offers that were glanced at and not searched, in their own order."""
    return [one for one in offers if cache.glanced(one) and not cache.searched(one)]


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
