"""The orders nearest to one that no stone meets, each with a stone that a search found for it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from math import isclose

from optimizer.offers.placement_cache import PlacedOffer, PlacementCache
from optimizer.offers.relaxations import OrderKey, RelaxedOrder, without
from optimizer.order import Order
from optimizer.plan_model import NearestOrder, OrderChange
from optimizer.planning.demand_figures import (
    FIGURES,
    figure_of,
    limits,
    ordered,
    rounded_out,
    with_limits,
)
from optimizer.planning.finished import stone_of
from optimizer.planning.relaxation_search import Relaxation, RelaxationSearch
from optimizer.planning.relaxed_orders import NearSearch, with_fewest_relaxed, with_less_clean_up
from optimizer.rough.model import Rough

HALVINGS = {
    "quick": 2,
    "normal": 4,
    "thorough": 6,
}  # of the way from the order to a stone's figures
SMALLER = 0.995  # of a fixed size at which the search failed, for one more search
LEFT_OUT = 1.0  # the distance of a demand that is left out altogether


def nearest_orders(
    rough: Rough,
    order: Order,
    effort: str,
    searches: RelaxationSearch,
    cache: PlacementCache,
    found: Sequence[tuple[Relaxation, PlacedOffer]],
) -> tuple[NearestOrder, ...]:
    """Orders near ``order`` for which a quick search found a stone, the nearest first: one for each
    demand without which a stone was ``found``, relaxed only as far as is needed. Where no demand
    stands in the way alone, one order in which as few as possible are relaxed."""
    near = NearSearch(rough, order, searches, cache)
    relaxed = [(RelaxedOrder(one.sentence, one.order, one.keys), stone) for one, stone in found]
    relaxed = [*(pair for pair in relaxed if pair[0].keys), *with_less_clean_up(near)]
    relaxed = relaxed or list(with_fewest_relaxed(near))
    orders = []
    for number, (one, stone) in enumerate(relaxed, 1):
        cache.watch.progress("seeking the nearest order that works", number, len(relaxed), 0.0)
        if (tightened := _tightened(near, one, stone, HALVINGS[effort])) is not None:
            orders.append(tightened)
    return tuple(near for _, near in sorted(orders, key=lambda pair: pair[0]))


def _tightened(
    near: NearSearch, relaxed: RelaxedOrder, stone: PlacedOffer, halvings: int
) -> tuple[float, NearestOrder] | None:
    """(its distance, the order nearest to the one ordered) by halving the way between the order and
    the figures of a stone found for the relaxed order."""
    figures = {
        key: figure_of(near.rough, near.order, key, stone) for key in relaxed.keys if key in FIGURES
    }
    figures |= {key: None for key in relaxed.keys if figures.get(key) is None}
    figures = dict(sorted(figures.items(), key=lambda item: item[1] is None))  # left out last
    order = _moved(near.order, figures, stone, 1.0)
    if order == near.order:
        return None
    if _fixed(near.order, relaxed.keys):
        fixed = _of_fixed_size(near, figures, stone)
        if fixed is None:
            return None
        order, stone = fixed
    elif not all(key.table in ("size", "workshop") for key in relaxed.keys):  # not greatest yet
        order, stone = _halved(near, figures, order, stone, halvings)
    changes = tuple(_change(near.order, order, key) for key in relaxed.keys)
    changes = tuple(change for change in changes if change.works != change.ordered)
    found_stone = replace(stone_of(near.rough, *stone, None), order=order)
    distance = max(_distance(near.order, order, key) for key in relaxed.keys)
    return distance, NearestOrder(changes, (found_stone,))


def _of_fixed_size(
    near: NearSearch, figures: Mapping[OrderKey, float | None], stone: PlacedOffer
) -> tuple[Order, PlacedOffer] | None:
    """The order with the fixed sizes of ``stone``, or slightly smaller, and a stone found for it;
    in the end one that is searched as the greatest up to this size."""
    order = _moved(near.order, figures, stone, 1.0)
    if (best := near.stone(order)) is not None:
        return order, best
    shrunk = {key: value and SMALLER * value for key, value in figures.items()}
    smaller = _moved(near.order, shrunk, stone, 1.0)
    if (best := near.stone(smaller)) is not None:
        return smaller, best
    sizes = {key: w and (SMALLER * w[0], w[1]) for key, w in vars(order.size).items()}
    best = near.stone(replace(order, size=replace(order.size, **sizes)))
    if best is None or not _has_sizes(near.rough, order, figures, best):
        return None
    return order, best


def _has_sizes(rough: Rough, order: Order, keys: Iterable[OrderKey], stone: PlacedOffer) -> bool:
    """Whether a stone has the fixed sizes of the order."""
    fixed = [key for key in keys if _fixed(order, (key,))]
    found = [figure_of(rough, order, key, stone) for key in fixed]
    return all(
        isclose(value or 0.0, limits(order, key)[0])
        for key, value in zip(fixed, found, strict=True)
    )


def _halved(
    near: NearSearch,
    figures: Mapping[OrderKey, float | None],
    order: Order,
    stone: PlacedOffer,
    halvings: int,
) -> tuple[Order, PlacedOffer]:
    """The order nearest to the one ordered, on the way to ``figures``, for which a stone is found;
    at first that is ``order`` with ``stone``. A stone found may be better than it was asked to be:
    the order then asks for as much as the stone has."""
    failed, works = 0.0, 1.0
    for _ in range(halvings):
        share = (failed + works) / 2.0
        tried = _moved(near.order, figures, stone, share)
        if tried in (near.order, order):
            break
        best = near.stone(tried)
        if best is None:
            failed = share
        else:
            works, order, stone = share, tried, best
    own = {
        key: figure if figure is None else figure_of(near.rough, near.order, key, stone)
        for key, figure in figures.items()
    }
    closest = _moved(near.order, own, stone, 1.0)
    return (order if closest == near.order else closest), stone


def _moved(
    order: Order, figures: Mapping[OrderKey, float | None], stone: PlacedOffer, share: float
) -> Order:
    """The order with limits moved by a share of the way towards ``figures``; demands without a
    figure are left out, and the design is the stone's."""
    for key, figure in figures.items():
        if key.key == "design":
            order = replace(order, designs=(stone.offer.design.name,), parameters={})
        elif figure is None:
            order = without(order, key)
        else:
            low, high = limits(order, key)
            fixed = low == high
            if figure < low:
                low, _ = rounded_out(key, low - share * (low - figure), high)
            elif figure > high:
                _, high = rounded_out(key, low, high + share * (figure - high))
            if fixed and key.table == "size":
                high = low
            order = with_limits(order, key, low, high)
    return order


def _fixed(order: Order, keys: Sequence[OrderKey]) -> bool:
    """Whether one of these demands is a size with a single value."""
    return any(key.table == "size" and len(set(limits(order, key))) == 1 for key in keys)


def _change(order: Order, near: Order, key: OrderKey) -> OrderChange:
    if key.key == "design":
        return OrderChange(*key, " or ".join(order.design_names), near.designs[0])
    works = (
        None if key not in FIGURES or getattr(near, key.table, near) is None else ordered(near, key)
    )
    return OrderChange(*key, ordered(order, key), works)


def _distance(order: Order, near: Order, key: OrderKey) -> float:
    """How far a demand was relaxed, as a share of all that its figure can be, or of the value
    ordered."""
    if key not in FIGURES or getattr(near, key.table, near) is None or ordered(near, key) is None:
        return LEFT_OUT
    (low, high), (near_low, near_high) = limits(order, key), limits(near, key)
    moved = max(
        low - near_low if low > near_low else 0.0, near_high - high if near_high > high else 0.0
    )
    return moved / (FIGURES[key].whole or low)
