"""The searches for what stands in the way of a stone: each demand left out alone, within a work."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from optimizer.offers.heaviest import quick_best
from optimizer.offers.offer import relaxations, without_each_flaw
from optimizer.offers.placement_cache import PlacementCache, Told
from optimizer.order import Order
from optimizer.rough.model import Rough

WORK = {"quick": 120, "normal": 240, "thorough": 960}  # of all searches, in glances


@dataclass(frozen=True)
class Relaxation:
    """An order, or a piece, without one demand or flaw, which ``sentence`` names."""

    sentence: str
    rough: Rough
    order: Order


def single_relaxations(rough: Rough, order: Order, name: str = "") -> list[Relaxation]:
    """Each demand of an order, and each flaw, left out alone; ``name`` begins the sentences."""
    return [
        *(Relaxation(name + text, rough, looser) for text, looser in relaxations(order)),
        *(Relaxation(name + text, without, order) for text, without in without_each_flaw(rough)),
    ]


@dataclass
class RelaxationSearch:
    """The searches of one plan, which share their ``work``."""

    work: int
    untried: list[str] = field(default_factory=list)  # sentences that no work was left for

    def stones_found(
        self, looser: Sequence[Relaxation], rough: Rough, order: Order, lay: PlacementCache
    ) -> Iterator[tuple[Relaxation, Told]]:
        """Those of ``looser`` that a stone is found for, and the stones. ``rough`` and ``order``
        are what was asked for, ``lay`` what was laid for them. A stop ends it early."""
        for one in looser:
            if lay.watch.stop():
                return
            if self.work <= 0:
                self.untried.append(one.sentence)
                continue
            # Sizes and flaws tell no stones apart in a cache, so only looks share one.
            alike = one.rough is rough and replace(one.order, look=order.look) == order
            cache = lay if alike else PlacementCache(lay.ground, lay.seed, lay.watch)
            before = cache.work
            best = quick_best(one.rough, one.order, replace(cache, most=before + self.work))
            self.work -= max(1, cache.work - before)
            if best is not None:
                yield one, best

    def untried_line(self) -> tuple[str, ...]:
        """What was not looked into, in a sentence."""
        if not self.untried:
            return ()
        return (
            "Whether one of these alone stands in the way was not looked into, since the work for "
            f"it was done: {'; '.join(self.untried)}.",
        )
