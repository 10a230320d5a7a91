"""What to begin free parameters with, where a piece is to give several stones."""

from dataclasses import replace

from optimizer.offers.offer import Offer
from optimizer.offers.placement_cache import lay
from optimizer.placement.ground import Ground
from optimizer.placement.search import Watch
from optimizer.several.model import Wish


def well_shaped(ground: Ground, wish: Wish, seed: int, watch: Watch) -> Wish:
    """The wish with free parameters begun at what makes the largest stone of the whole rough: in
    flat rough that is what suits its parts."""
    return replace(wish, offers=tuple(_shaped(ground, one, seed, watch) for one in wish.offers))


def _shaped(ground: Ground, offer: Offer, seed: int, watch: Watch) -> Offer:
    told = None if offer.freedom is None else lay(ground, offer, "glance", seed, Watch(watch.stop))
    if told is None:
        return offer
    shaped = told[0]
    return replace(offer, parameters=shaped.parameters, want=shaped.want)
