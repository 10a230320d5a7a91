"""Part of ``plan`` for several stones, where optics meets placement: the look that a wish asks of
each of its stones, told to the search as ranges of how the boundary lies, and held against what it
finds."""

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

MARGIN = MARGINS[-1]  # the greater: stones of all sizes are held against one stone's map
Met = Callable[[PlacedStone], bool]


def looked(
    rough: Rough, wishes: Sequence[Wish], lay: PlacementCache, effort: str
) -> tuple[tuple[Wish, ...], Met, tuple[str, ...]]:
    """The wishes, each offer of those that ask for a look narrowed to ranges that promise it;
    whether a stone laid truly looks as its wish asks; and which wishes no place promises it to."""
    aims = {
        number: LookTarget.of(rough, wish.order.look)
        for number, wish in enumerate(wishes)
        if wish.order.look is not None and wish.order.look.of_colour
    }
    narrower = tuple(
        replace(wish, offers=tuple(_narrowed(aims[number], wish, lay, effort)))
        if number in aims
        else wish
        for number, wish in enumerate(wishes)
    )
    seen: dict[int, tuple[Placement, bool]] = {}  # by identity; holds what it is told by

    def met(laid: PlacedStone) -> bool:
        if laid.wish not in aims:
            return True
        key = id(laid.placement)
        if key not in seen:
            seen[key] = laid.placement, aims[laid.wish].met(laid.placement)
        return seen[key][1]

    unseen = tuple(
        f'No place of the colour boundary promises the look of the wanted "{wish.name}".'
        for wish in narrower
        if not wish.offers
    )
    return narrower, met, unseen


def but_for_looks(wishes: Sequence[Wish], bound: Bound) -> Bound:
    """The bound knows of the angles that looks leave, not of the looks."""
    if all(wish.order.look is None for wish in wishes):
        return bound
    return replace(bound, ignores=(*bound.ignores, "the look"))


def _narrowed(aim: LookTarget, wish: Wish, lay: PlacementCache, effort: str) -> Iterator[Offer]:
    """The best ranges of each offer, by the map of its stone in the whole rough."""
    for offer in wish.offers:
        laid = place(lay.ground, offer.want, effort="glance", seed=lay.seed, watch=lay.watch)
        if laid is not None:
            yield from aim.narrowed(laid, offer, MARGIN, REGIONS[effort], lay)
