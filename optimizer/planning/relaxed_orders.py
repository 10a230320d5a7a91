"""Orders with less clean-up, or without several of their demands, and a stone found for each."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from optimizer.offers.placement_cache import PlacedOffer, PlacementCache
from optimizer.offers.relaxations import (
    OrderKey,
    RelaxedOrder,
    relaxations,
    without_all,
    without_least_sizes,
)
from optimizer.order import Order
from optimizer.planning.relaxation_search import RelaxationSearch
from optimizer.rough.model import Rough

CLEAN_UP = OrderKey("workshop", "clean_up_mm")


@dataclass(frozen=True)
class NearSearch:
    """The search for orders near ``order``, within the work that ``searches`` has left."""

    rough: Rough
    order: Order
    searches: RelaxationSearch
    cache: PlacementCache

    def stone(self, order: Order) -> PlacedOffer | None:
        """The best stone of a quick search for another order."""
        # As in RelaxationSearch.stones_found, only orders that differ in their look share a cache.
        alike = replace(order, look=self.order.look) == self.order
        return self.searches.best(self.rough, order, self.cache if alike else self.cache.emptied())


def with_less_clean_up(near: NearSearch) -> Iterator[tuple[RelaxedOrder, PlacedOffer]]:
    """The order without clean-up, and the stone of the least size ordered that lies deepest."""
    size, shop = near.order.size, near.order.workshop
    least = {key: w and (w[0], w[0]) for key, w in vars(size).items() if w is None or w[0] > 0.0}
    if shop.clean_up_mm == 0.0 or not any(least.values()):
        return
    bare = replace(near.order, workshop=replace(shop, clean_up_mm=0.0))
    stone = near.stone(replace(bare, size=replace(size, **least)))
    if stone is not None:
        yield RelaxedOrder("the clean-up", bare, (CLEAN_UP,)), stone


def with_fewest_relaxed(near: NearSearch) -> Iterator[tuple[RelaxedOrder, PlacedOffer]]:
    """The order without the least sizes; where even so no stone is found, the order without as few
    of its demands as the search can do with: all are dropped, then taken back one by one, each as
    long as a stone is found."""
    sizes = without_least_sizes(near.order)
    if sizes is not None and (stone := near.stone(sizes.order)) is not None:
        yield sizes, stone
        return
    dropped = [one.keys[0] for one in relaxations(near.order)]
    if len(dropped) < 2:
        return
    best = near.stone(without_all(near.order, dropped))
    if best is None:
        return
    for key in tuple(dropped):
        fewer = [one for one in dropped if one != key]
        if fewer and (stone := near.stone(without_all(near.order, fewer))) is not None:
            dropped, best = fewer, stone
    yield RelaxedOrder("several demands", without_all(near.order, dropped), tuple(dropped)), best
