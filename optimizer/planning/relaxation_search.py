"""Which demand alone stands in the way of a stone: searches with one demand left out at a time."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from optimizer.offers.heaviest import quick_best
from optimizer.offers.placement_cache import PlacedOffer, PlacementCache
from optimizer.offers.relaxations import OrderKey, relaxations, without_each_flaw
from optimizer.order import Order
from optimizer.placement.task import Watch
from optimizer.rough.model import Rough

# Of all searches, in glances: up to a second each on the demo piece, and six make a quick
# search. So quick effort spends some five times as long as on the search for the stone ordered.
WORK = {"quick": 36, "normal": 240, "thorough": 960}
KEPT = 1 / 3  # of the work, for the nearest orders
NONE_NEAR = "No order near this one was found to work within this effort."


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
    kept: int = 0  # of it, for searches for the nearest orders
    untried: list[str] = field(default_factory=list)  # sentences for which the work was not enough

    @staticmethod
    def of(effort: str) -> "RelaxationSearch":
        """The searches of a plan that has found no stone."""
        return RelaxationSearch(WORK[effort], round(KEPT * WORK[effort]))

    def stones_found(
        self, tried: Sequence[Relaxation], rough: Rough, order: Order, cache: PlacementCache
    ) -> Iterator[tuple[Relaxation, PlacedOffer]]:
        """Each of the relaxations for which a stone is found, with that stone. ``rough`` and
        ``order`` are the plan's own; ``cache`` has the placements found for them, and relaxations
        that can use it are tried first. A stop ends the search early."""

        def alike(one: Relaxation) -> bool:
            # The cache's keys lack sizes and flaws, so only relaxations of the look may share it.
            return one.rough is rough and replace(one.order, look=order.look) == order

        for one in sorted(tried, key=alike, reverse=True):
            if cache.watch.stop():
                return
            if self.work <= self.kept:
                self.untried.append(one.sentence)
                continue
            known = cache if alike(one) else cache.emptied()
            best = self.best(one.rough, one.order, known, self.kept)
            if best is not None:
                yield one, best
            elif self.work <= self.kept:
                self.untried.append(one.sentence)  # cut short

    def best(
        self, rough: Rough, order: Order, cache: PlacementCache, kept: int = 0
    ) -> PlacedOffer | None:
        """The best stone of a quick search, which ends where the work is used up but for ``kept``;
        None where there is none, or no work is left."""
        if self.work <= 0 or cache.watch.stop():
            return None
        before, watch = cache.work, _watch_aside(cache.watch)
        best = quick_best(rough, order, replace(cache, watch=watch, most=before + self.work - kept))
        self.work -= max(1, cache.work - before)
        return best

    def untried_line(self) -> tuple[str, ...]:
        """A sentence on what was not searched."""
        if not self.untried:
            return ()
        return (
            "Whether one of these alone stands in the way was not searched to the end, since the "
            f"budget of work was used up: {'; '.join(self.untried)}. More effort searches more.",
        )


def _watch_aside(watch: Watch) -> Watch:
    """A watch that says that the search is for another order, of which a stop keeps no stone."""

    def progress(stage: str, done: int, total: int, best: float) -> None:
        watch.progress(f"for another order: {stage}", done, total, 0.0)

    return Watch(watch.stop, progress)
