"""Which demand alone stands in the way of a stone: searches with one demand left out at a time."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from optimizer.offers.heaviest import quick_best
from optimizer.offers.placement_cache import PlacedOffer, PlacementCache
from optimizer.offers.relaxations import OrderKey, relaxations, without_each_flaw
from optimizer.order import Order
from optimizer.placement.task import Watch
from optimizer.rough.model import Rough

WORK = {"quick": 120, "normal": 240, "thorough": 960}  # of all searches, in glances


@dataclass(frozen=True)
class Relaxation:
    """An order without one demand, or a piece without one flaw; ``sentence`` names what is left
    out."""

    sentence: str
    rough: Rough
    order: Order
    keys: tuple[OrderKey, ...] = ()  # of the demand left out; empty for a flaw


def single_relaxations(rough: Rough, order: Order, name: str = "") -> list[Relaxation]:
    """The relaxations that each leave out one demand of the order, or one flaw; ``name`` begins
    each sentence."""
    return [
        *(
            Relaxation(name + text, rough, relaxed, keys)
            for text, relaxed, keys in relaxations(order)
        ),
        *(Relaxation(name + text, without, order) for text, without in without_each_flaw(rough)),
    ]


@dataclass
class RelaxationSearch:
    """The searches of one plan, which share a budget of work."""

    work: int  # left to spend
    untried: list[str] = field(default_factory=list)  # sentences for which no work was left

    def stones_found(
        self, tried: Sequence[Relaxation], rough: Rough, order: Order, cache: PlacementCache
    ) -> Iterator[tuple[Relaxation, PlacedOffer]]:
        """Each of the relaxations for which a stone is found, with that stone. ``rough`` and
        ``order`` are the plan's own; ``cache`` has the placements found for them. A stop ends the
        search early."""
        for one in tried:
            if cache.watch.stop():
                return
            if self.work <= 0:
                self.untried.append(one.sentence)
                continue
            # The cache's keys lack sizes and flaws, so only relaxations of the look may share it.
            alike = one.rough is rough and replace(one.order, look=order.look) == order
            best = self.best(one.rough, one.order, cache if alike else cache.emptied())
            if best is not None:
                yield one, best

    def best(self, rough: Rough, order: Order, cache: PlacementCache) -> PlacedOffer | None:
        """The best stone of a quick search, which ends where the work is used up; None where there
        is none, or no work is left."""
        if self.work <= 0 or cache.watch.stop():
            return None
        before, watch = cache.work, _watch_aside(cache.watch)
        best = quick_best(rough, order, replace(cache, watch=watch, most=before + self.work))
        self.work -= max(1, cache.work - before)
        return best

    def untried_line(self) -> tuple[str, ...]:
        """A sentence on what was not searched."""
        if not self.untried:
            return ()
        return (
            "Whether one of these alone stands in the way was not searched, since the budget of "
            f"work was used up: {'; '.join(self.untried)}.",
        )


def _watch_aside(watch: Watch) -> Watch:
    """A watch that says that the search is for another order, of which a stop keeps no stone."""

    def progress(stage: str, done: int, total: int, best: float) -> None:
        watch.progress(f"for another order: {stage}", done, total, 0.0)

    return Watch(watch.stop, progress)
