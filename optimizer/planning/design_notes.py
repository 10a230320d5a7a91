"""What the plan says of other designs: the closest by weight, and those not searched for."""

from collections.abc import Sequence
from itertools import islice

from optimizer.offers.offer import Offer
from optimizer.offers.placement_cache import PlacedOffer, PlacementCache
from optimizer.offers.within_reach import passed_over
from optimizer.plan_model import Plan
from optimizer.planning.finished import carat_of

TOLD = 3  # designs


def notes_on_designs(
    plan: Plan, cache: PlacementCache, allowed: Sequence[Offer], best: PlacedOffer | None
) -> tuple[str, ...]:
    """Sentences on the designs that come next to the stone found, and on how many were only
    glanced at. None where one design was ordered, where a stop left designs unsearched, or where
    the order asks for a look: the stones known of other designs need not have it."""
    if best is None or len(allowed) == 1 or cache.watch.stop() or plan.order.look is not None:
        return ()
    heaviest: dict[str, PlacedOffer] = {}
    for one in cache.stones():  # the heaviest first
        heaviest.setdefault(one.offer.design.title, one)
    heaviest.pop(best.offer.design.title, None)
    notes = []
    if heaviest:
        told = [
            f"{title} {carat_of(plan.rough, one.placement):.2f} ct"
            for title, one in islice(heaviest.items(), TOLD)
        ]
        notes.append(f"The next designs by weight: {', '.join(told)}.")
    if left := passed_over(cache, allowed):
        notes.append(
            f"{len(left)} of {len(allowed)} designs were ruled out by a rough estimate, which a "
            "full search seldom beats by a fifth."
        )
    return tuple(notes)
