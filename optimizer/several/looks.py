"""The look that a wish asks of each of its stones, where optics meets placement: translated for the
search into ranges of where the boundary lies, and checked on every stone that the search finds."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from optimizer.offers.bound import Bound
from optimizer.offers.offer import Offer
from optimizer.offers.placement_cache import PlacementCache
from optimizer.offers.wanted_look import MARGINS, REGIONS, LookTarget
from optimizer.placement.model import Placement
from optimizer.placement.place import place
from optimizer.rough.model import Rough
from optimizer.several.model import PlacedStone, Wish

MARGIN = MARGINS[-1]  # the greater one: one stone's map serves for stones of all sizes
LookMet = Callable[[PlacedStone], bool]


def with_look_ranges(
    rough: Rough, wishes: Sequence[Wish], cache: PlacementCache, effort: str
) -> tuple[tuple[Wish, ...], LookMet, tuple[str, ...]]:
    """The wishes, with every offer that must meet a look narrowed to ranges that promise it; a
    function that says whether a placed stone truly looks as its wish asks; and a sentence for each
    wish whose look no place of the boundary promises."""
    targets = {
        number: LookTarget.of(rough, wish.order.look)
        for number, wish in enumerate(wishes)
        if wish.order.look is not None and wish.order.look.of_colour
    }
    narrowed = tuple(
        replace(wish, offers=tuple(_narrowed(targets[number], wish, cache, effort)))
        if number in targets
        else wish
        for number, wish in enumerate(wishes)
    )
    known: dict[int, tuple[Placement, bool]] = {}  # by id; the placement is kept so that it lasts

    def look_met(stone: PlacedStone) -> bool:
        if stone.wish not in targets:
            return True
        key = id(stone.placement)
        if key not in known:
            known[key] = stone.placement, targets[stone.wish].met(stone.placement)
        return known[key][1]

    unmet = tuple(
        f'No place of the colour boundary promises the look of the wanted "{wish.name}".'
        for wish in narrowed
        if not wish.offers
    )
    return narrowed, look_met, unmet


def ignoring_looks(wishes: Sequence[Wish], bound: Bound) -> Bound:
    """The bound, said to ignore looks where a wish asks for one: it covers the angles that the
    look allows, but not what the face shows."""
    if all(wish.order.look is None for wish in wishes):
        return bound
    return replace(bound, ignores=(*bound.ignores, "the look"))


def _narrowed(
    target: LookTarget, wish: Wish, cache: PlacementCache, effort: str
) -> Iterator[Offer]:
    """The best ranges of each offer, by the look map of its stone in the whole rough."""
    for offer in wish.offers:
        placement = place(
            cache.ground,
            offer.want,
            effort="glance",
            seed=cache.seed,
            watch=cache.watch,
        )
        if placement is not None:
            yield from target.narrowed(placement, offer, MARGIN, REGIONS[effort], cache)
