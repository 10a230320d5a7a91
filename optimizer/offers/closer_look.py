"""The look ordered, met more closely: a stone that was laid in a box of angles climbs on as far as
its face truly shows what is asked."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optimizer.offers.offer import Offer
from optimizer.offers.placement_cache import PlacedOffer, PlacementCache
from optimizer.offers.wanted_look import LookTarget
from optimizer.placement.near import place_near
from optimizer.placement.shaped import place_shaped_near

ROUNDS = 3  # each looks anew about where the one before came to
PAYS = 1e-3  # of the weight: a round that brings less is the last
SPARE = 5e-4  # of a share: what a bound keeps for the part of the cubics that is not exact


def closer(
    aim: LookTarget, told: PlacedOffer, allowed: Sequence[Offer], lay: PlacementCache
) -> PlacedOffer:
    """The stone climbed on from where it lies, by what its face shows there, without the box that
    it was found in; the heaviest that truly looks as ordered."""
    asked = next(one for one in allowed if one.design is told[0].design)
    best, here = told, told
    for _ in range(ROUNDS):
        if lay.watch.stop() or here[1].pose.width >= here[0].want.width_mm[1]:
            break
        found = _climbed(aim, here, asked, lay)
        if found is None:
            break
        gained = found[1].volume_mm3 / best[1].volume_mm3 - 1.0
        here = found
        if aim.met(found[1]):
            if gained > 0.0:
                best = found
            if gained < PAYS:
                break
    return best


def _climbed(
    aim: LookTarget, told: PlacedOffer, asked: Offer, lay: PlacementCache
) -> PlacedOffer | None:
    offer, there = told
    shown = aim.shown(there, SPARE)
    want = replace(offer.want, zone=asked.want.zone, shown=shown)
    if offer.freedom is None:
        laid = place_near(lay.ground, want, there, lay.watch)
        return None if laid is None else (replace(offer, want=want), laid)
    family = offer.freedom.family
    values = np.array([offer.parameters[one.name] for one in family.free])
    choice = place_shaped_near(lay.ground, want, offer.freedom, values, there, lay.watch)
    if choice is None:
        return None
    body = choice.placement.body
    chosen = {**family.parameters(choice.values), "girdle": body.girdle_share}
    want = replace(want, body=body, width_mm=offer.freedom.window(body))
    return replace(offer, parameters=chosen, want=want), choice.placement
