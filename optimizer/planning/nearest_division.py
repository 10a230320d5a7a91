"""The orders nearest to one for several stones that no division meets: fewer stones, or smaller."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from optimizer.offers.offer import Offer, width_range
from optimizer.offers.relaxations import OrderKey
from optimizer.order import Order, Range, SizeDemand
from optimizer.order.several import Wanted
from optimizer.plan_model import NearestOrder, OrderChange, Stone
from optimizer.planning.demand_figures import rounded_out
from optimizer.planning.finished import stone_of
from optimizer.planning.relaxed_divisions import RelaxedResult
from optimizer.rough.model import Rough
from optimizer.several.divide import divide
from optimizer.several.instance import Search
from optimizer.several.model import Division, Wish
from optimizer.wording.plain_number import plain

SIZES_TRIED = {"quick": 1, "normal": 2, "thorough": 4}  # each by a quick search
# Stones of the size that the same ground holds more of: our estimate for the first size tried.
GROUND_USED = 0.97


def nearest_divisions(
    order: Order, search: Search, relaxed: Sequence[RelaxedResult]
) -> tuple[NearestOrder, ...]:
    """Orders for fewer stones, and for smaller stones of a kind of which too few were found, for
    each of which a division was found; the nearest first."""
    wanted = {one.name: one for one in order.wanted}
    wishes, rough = search.instance.wishes, search.rough
    needed = sum(wish.least for wish in wishes)
    orders: list[tuple[float, NearestOrder]] = []
    for one in relaxed:
        division = one.fullest()
        counts = one.counts(division)
        missing = sum(wishes[k].least - n for k, n in zip(one.wishes, counts, strict=True))
        changes = tuple(
            _fewer(wanted[wishes[k].name], n)
            for k, n in zip(one.wishes, counts, strict=True)
            if n < wishes[k].least
        )
        orders.append((missing / needed, NearestOrder(changes, _stones(rough, wishes, division))))
    for one in relaxed:
        if len(one.wishes) == 1 and not wanted[wishes[one.wishes[0]].name].calibrated:
            orders += _smaller(search, one)
    return tuple(near for _, near in sorted(orders, key=lambda pair: pair[0]))


def single_stone(order: Order, wish: Wish, stone: Stone) -> NearestOrder:
    """The order for one stone of a wish, where neither two nor a pair were found."""
    wanted = next(one for one in order.wanted if one.name == wish.name)
    changes = [_fewer(wanted, 1)] if wanted.count is not None else []
    if wanted.pair_mm is not None:
        changes.append(OrderChange("", "pair", plain(wanted.pair_mm), None, wanted.name))
    found = replace(stone, order=wish.order, wanted=wish.name)
    return NearestOrder(tuple(changes), (found,))


def _fewer(wanted: Wanted, found: int) -> OrderChange:
    assert wanted.count is not None  # a wish without a count needs no stone
    if not found:
        return OrderChange("", "", None, None, wanted.name)
    least, most = wanted.count
    fewer = (found, found if least == most else most)
    return OrderChange("", "count", wanted.count, fewer, wanted.name)


def _smaller(search: Search, one: RelaxedResult) -> Iterator[tuple[float, NearestOrder]]:
    """The order with the greatest sizes, of those tried, at which all stones of a wish are
    found."""
    (number,), wishes = one.wishes, search.instance.wishes
    wish = wishes[number]
    if not _sized(wish.order.size):
        return
    (found,) = one.counts(one.fullest())
    failed, works, best = 1.0, 0.0, None
    share = GROUND_USED * (max(found, 0.5) / wish.least) ** 0.5
    most = SIZES_TRIED[search.effort]
    for tried in range(most):
        search.watch.progress("seeking the size at which all are found", tried, most, 0.0)
        smaller = _scaled(wish, share, search)
        division = _division_with(search, number, smaller)
        if division is None:
            failed = share
        else:
            works, best = share, (smaller, division)
        share = (failed + works) / 2.0 if works else 0.8 * share
    if best is None:
        return
    smaller, division = best
    changed = (*wishes[:number], smaller, *wishes[number + 1 :])
    changes = tuple(
        OrderChange("size", key, window, getattr(smaller.order.size, key), wish.name)
        for key, window in _sized(wish.order.size).items()
    )
    yield 1.0 - works, NearestOrder(changes, _stones(search.rough, changed, division))


def _sized(size: SizeDemand) -> dict[str, Range]:
    """The sizes that are ordered with a least value."""
    return {key: window for key, window in vars(size).items() if window and window[0] > 0.0}


def _scaled(wish: Wish, share: float, search: Search) -> Wish:
    """The wish with its least sizes scaled; carats as the cube of lengths."""
    windows = {}
    for key, (low, high) in _sized(wish.order.size).items():
        scale = share**3 if key == "carat" else share
        least, _ = rounded_out(OrderKey("size", key), low * scale, high)
        windows[key] = (least, least if low == high else high)
    size = replace(wish.order.size, **windows)
    offers = tuple(_with_size(offer, size, search.instance.sg) for offer in wish.offers)
    return replace(wish, order=replace(wish.order, size=size), offers=offers)


def _with_size(offer: Offer, size: SizeDemand, sg: float) -> Offer:
    want = replace(offer.want, width_mm=width_range(offer.want.body, size, sg))
    if offer.freedom is None:
        return replace(offer, want=want)
    freedom = replace(offer.freedom, window=lambda body: width_range(body, size, sg))
    return replace(offer, want=want, freedom=freedom)


def _division_with(search: Search, number: int, wish: Wish) -> Division | None:
    """The best division of a quick search in which one wish is another."""
    if search.watch.stop():
        return None
    wishes = (*search.instance.wishes[:number], wish, *search.instance.wishes[number + 1 :])
    instance = replace(search.instance, wishes=wishes)
    result = divide(replace(search, instance=instance, effort="quick"))
    return None if result is None else result.best


def _stones(rough: Rough, wishes: Sequence[Wish], division: Division) -> tuple[Stone, ...]:
    return tuple(
        replace(
            stone_of(rough, replace(placed.offer, freedom=None), placed.placement, None),
            order=wishes[placed.wish].order,
            wanted=wishes[placed.wish].name,
        )
        for placed in division.stones
    )
