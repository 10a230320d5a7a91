"""What to begin free parameters with, where a piece is to give several stones."""

from collections.abc import Sequence
from dataclasses import replace

from optimizer.offers.offer import Offer
from optimizer.offers.placement_cache import lay
from optimizer.placement.ground import Ground
from optimizer.placement.search import Watch
from optimizer.several.model import Wish
from optimizer.several.shared_work import MANY


def well_shaped(
    ground: Ground, wishes: Sequence[Wish], seed: int, watch: Watch
) -> tuple[Wish, ...]:
    """The wishes with free parameters begun at what makes the largest stone of the whole rough: in
    flat rough that is what suits its parts. Of very many offers the last begin with the usual."""
    left, shaped = MANY, []
    for wish in wishes:
        offers = tuple(_shaped(ground, one, seed, watch) for one in wish.offers[:left])
        shaped.append(replace(wish, offers=(*offers, *wish.offers[left:])))
        left = max(0, left - len(wish.offers))
    return tuple(shaped)


def _shaped(ground: Ground, offer: Offer, seed: int, watch: Watch) -> Offer:
    told = None if offer.freedom is None else lay(ground, offer, "glance", seed, Watch(watch.stop))
    if told is None:
        return offer
    shaped = told[0]
    return replace(offer, parameters=shaped.parameters, want=shaped.want)
