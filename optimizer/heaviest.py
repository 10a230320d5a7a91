"""The heaviest stone over all designs that an order allows."""

from collections.abc import Callable, Sequence
from dataclasses import replace

from optimizer.allowed import allowed_offers
from optimizer.errors import InputError
from optimizer.offer import Offer
from optimizer.order import Order, ZoneDemand
from optimizer.placement.ground import Ground
from optimizer.placement.model import Placement
from optimizer.placement.place import place
from optimizer.placement.search import Watch
from optimizer.placement.shaped import place_shaped
from optimizer.rough.model import Rough
from optimizer.wanted_look import MARGINS, REGIONS, Aim

CLOSE_SHARE = 0.9  # a design this near to the best of a quick look is looked at in full

Told = tuple[Offer, Placement]


def best_of(
    rough: Rough, order: Order, ground: Ground, allowed: Sequence[Offer], effort: str, seed: int,
    watch: Watch,
) -> Told | None:  # fmt: skip
    """The heaviest placement that meets the order, its look as well: the map of each design's
    look, for a stone as it would lie without, says in what ranges the boundary may run."""
    if order.look is None:
        return heaviest(ground, allowed, effort, seed, watch)
    aim = Aim.of(rough, order.look)
    if aim.zone is None:
        return heaviest(ground, allowed, effort, seed, watch, aim.met)
    free = [(offer, lay(ground, offer, "quick", seed, watch)) for offer in allowed]
    for margin in MARGINS:
        narrower = [
            one
            for offer, laid in free
            if laid is not None
            for one in aim.narrowed(laid[1], offer, margin, REGIONS[effort])
        ]
        best = heaviest(ground, narrower, effort, seed, watch, aim.met) if narrower else None
        if best is not None or watch.stop():
            return best
    return None


def heaviest(
    ground: Ground,
    allowed: Sequence[Offer],
    effort: str,
    seed: int,
    watch: Watch,
    met: Callable[[Placement], bool] = lambda _: True,
) -> Told | None:
    """The heaviest placement over all offers that is also ``met``, and the offer with the
    parameters chosen. Of several offers, all get a quick look and only those near the best of it
    the whole effort."""

    def tried_by(chosen: Sequence[Offer], how: str) -> list[Told]:
        tried = [lay(ground, one, how, seed, watch) for one in chosen if not watch.stop()]
        found = [one for one in tried if one is not None and met(one[1])]
        return sorted(found, key=lambda one: -one[1].volume_mm3)

    if len(allowed) > 1:
        first = tried_by(allowed, "quick")
        least = CLOSE_SHARE * first[0][1].volume_mm3 if first else 0.0
        if effort == "quick" or watch.stop():
            return first[0] if first else None
        keys = {_key(offer) for offer, laid in first if laid.volume_mm3 >= least}
        near = [offer for offer in allowed if _key(offer) in keys]
        found = sorted(
            [*tried_by(near or allowed, effort), *first], key=lambda one: -one[1].volume_mm3
        )
    else:
        found = tried_by(allowed, effort)
    return found[0] if found else None


def _key(offer: Offer) -> tuple[str, ZoneDemand | None]:
    """What tells offers apart, whatever parameters were chosen."""
    return offer.design.name, offer.want.zone


def quick_best(rough: Rough, order: Order, ground: Ground, seed: int, watch: Watch) -> Told | None:
    """A quick look at a loosened order, which may also fit no design at all."""
    try:
        allowed, _ = allowed_offers(rough, order)
    except InputError:
        return None
    return best_of(rough, order, ground, allowed, "quick", seed, watch)


def lay(ground: Ground, offer: Offer, effort: str, seed: int, watch: Watch) -> Told | None:
    """The best placement of one offer, and the offer with the parameters chosen."""

    def progress(stage: str, done: int, total: int, best: float) -> None:
        watch.progress(f"{offer.design.title}: {stage}", done, total, best)

    told = Watch(watch.stop, progress)
    if offer.freedom is None:
        placement = place(ground, offer.want, effort=effort, seed=seed, watch=told)
        return None if placement is None else (offer, placement)
    choice = place_shaped(ground, offer.want, offer.freedom, effort=effort, seed=seed, watch=told)
    if choice is None:
        return None
    placement, family = choice.placement, offer.freedom.family
    chosen = {**family.parameters(choice.values), "girdle": placement.body.girdle_share}
    window = offer.freedom.window(placement.body)
    want = replace(offer.want, body=placement.body, width_mm=window)
    return replace(offer, parameters=chosen, want=want, usual_mm3=choice.usual_mm3), placement
