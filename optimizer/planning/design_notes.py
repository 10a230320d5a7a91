"""What the plan says of other designs: the closest by weight, and those not searched for."""

from collections.abc import Sequence

from optimizer.offers.offer import Offer
from optimizer.offers.placement_cache import PlacedOffer, PlacementCache
from optimizer.offers.within_reach import passed_over
from optimizer.rough.model import Rough

TOLD = 3  # designs


def notes_on_designs(
    rough: Rough, cache: PlacementCache, allowed: Sequence[Offer], best: PlacedOffer | None
) -> tuple[str, ...]:
    """Sentences on the designs that come next to the stone found, and on how many were only
    glanced at; none where one design was ordered."""
    if best is None or len(allowed) == 1:
        return ()
    heaviest: dict[str, PlacedOffer] = {}
    for one in cache.stones():  # the heaviest first
        heaviest.setdefault(one.offer.design.title, one)
    heaviest.pop(best.offer.design.title, None)
    notes = []
    if heaviest:
        next_ones = [f"{title} {carat(one, rough):.2f} ct" for title, one in heaviest.items()]
        notes.append(f"The next designs by weight: {', '.join(next_ones[:TOLD])}.")
    if left := passed_over(cache, allowed):
        notes.append(
            f"{len(left)} of {len(allowed)} designs were ruled out by a rough estimate, which a "
            f"full search seldom beats by a fifth."
        )
    return tuple(notes)


def carat(one: PlacedOffer, rough: Rough) -> float:
    """The weight of a placed stone."""
    return one.placement.volume_mm3 * rough.material.sg / 200.0
