"""The values of free parameters with which a search for several stones begins."""

from collections.abc import Sequence
from dataclasses import replace

from optimizer.offers.offer import Offer
from optimizer.offers.placement_cache import place_offer
from optimizer.placement.ground import Ground
from optimizer.placement.search import Watch
from optimizer.several.model import Wish
from optimizer.several.shared_work import MANY


def with_initial_shapes(
    ground: Ground, wishes: Sequence[Wish], seed: int, watch: Watch
) -> tuple[Wish, ...]:
    """The wishes, their free parameters set to those of the largest stone in the whole rough: in
    flat rough, what suits the whole suits its parts. Of very many offers, only the first are
    searched; the others keep their usual parameters."""
    left, shaped = MANY, []
    for wish in wishes:
        offers = tuple(_shaped(ground, one, seed, watch) for one in wish.offers[:left])
        shaped.append(replace(wish, offers=(*offers, *wish.offers[left:])))
        left = max(0, left - len(wish.offers))
    return tuple(shaped)


def _shaped(ground: Ground, offer: Offer, seed: int, watch: Watch) -> Offer:
    found = (
        None
        if offer.freedom is None
        else place_offer(ground, offer, "glance", seed, Watch(watch.stop))
    )
    if found is None:
        return offer
    shaped = found[0]
    return replace(offer, parameters=shaped.parameters, want=shaped.want)
