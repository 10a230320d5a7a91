"""Offers placed in the rough, each searched once."""

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field, replace
from math import inf
from typing import NamedTuple, TypeVar

from optimizer.offers.offer import LEAST_WIDTH_MM, Offer, with_free_values
from optimizer.placement.ground import Ground
from optimizer.placement.model import Placement
from optimizer.placement.place import place
from optimizer.placement.search import Watch
from optimizer.placement.shaped import place_shaped

GLANCES = {"glance": 1, "quick": 6, "normal": 40, "thorough": 300}  # the work of each effort
Value = TypeVar("Value")


class PlacedOffer(NamedTuple):
    """An offer with the parameters chosen, and its placement."""

    offer: Offer
    placement: Placement


@dataclass(frozen=True)
class PlacementCache:
    """The best placement of each offer in ``ground``. An offer is identified by its design, its
    parameters and what it asks of the boundary, so one cache serves orders that differ only in
    their look."""

    ground: Ground
    seed: int
    watch: Watch
    most: float = inf  # work, in glances, after which nothing more is placed
    placed: dict[tuple[Hashable, ...], PlacedOffer | None] = field(default_factory=dict)
    glances: dict[tuple[Hashable, ...], PlacedOffer | None] = field(default_factory=dict)
    values: dict[Hashable, object] = field(default_factory=dict)

    @property
    def work(self) -> int:
        """The work done so far, in glances."""
        return len(self.glances) + sum(GLANCES[str(key[0])] for key in self.placed)

    def emptied(self) -> "PlacementCache":
        """A cache for the same ground that holds nothing yet."""
        return PlacementCache(self.ground, self.seed, self.watch)

    def best(self, offer: Offer, effort: str) -> PlacedOffer | None:
        """The best placement found for the offer; None where none was, or the work is spent."""
        key = effort, *_key(offer)
        if key not in self.placed:
            if self.work >= self.most:
                return None
            self.placed[key] = place_offer(self.ground, offer, effort, self.seed, self.watch)
        return self.placed[key]

    def glance(self, offer: Offer) -> PlacedOffer | None:
        """The largest stone with the offer's usual parameters that a glance finds, even one smaller
        than ordered; or what a quick search has found. None where there is none, or the work is
        spent."""
        if known := self.placed.get(("quick", *_key(offer))):
            return known
        high = offer.want.width_mm[1]
        key = high, *_key(offer)
        if key not in self.glances:
            if self.work >= self.most:
                return None
            want = replace(offer.want, width_mm=(min(LEAST_WIDTH_MM, high), high))
            loose = replace(offer, freedom=None, want=want)
            self.glances[key] = place_offer(self.ground, loose, "glance", self.seed, self.watch)
        return self.glances[key]

    def glanced(self, offer: Offer) -> bool:
        """Whether a glance at the offer was made."""
        return (offer.want.width_mm[1], *_key(offer)) in self.glances

    def searched(self, offer: Offer) -> bool:
        """Whether the offer's design was searched for, at any effort."""
        return any(key[1] == offer.design.name for key in self.placed)

    def once(self, key: Hashable, compute: Callable[[], Value]) -> Value:
        """The value that ``compute`` returns, computed once for each key."""
        if key not in self.values:
            self.values[key] = compute()
        return self.values[key]  # type: ignore[return-value]

    def stones(self) -> list[PlacedOffer]:
        """All stones placed, glances left out, the heaviest first."""
        found = [one for one in self.placed.values() if one is not None]
        return sorted(found, key=lambda one: -one.placement.volume_mm3)


def _key(offer: Offer) -> tuple[Hashable, ...]:
    free = () if offer.freedom is None else offer.freedom.family.free
    return offer.design.name, offer.want.zone, tuple(sorted(offer.parameters.items())), free


def place_offer(
    ground: Ground, offer: Offer, effort: str, seed: int, watch: Watch
) -> PlacedOffer | None:
    """The best placement of one offer, with the parameters chosen; None where none is found."""

    least = offer.want.width_mm[0]

    def progress(stage: str, done: int, total: int, best: float) -> None:
        width = best if best >= least else 0.0  # a stone smaller than ordered is not reported
        watch.progress(f"{offer.design.title}: {stage}", done, total, width)

    own = Watch(watch.stop, progress)
    if offer.freedom is None:
        placement = place(ground, offer.want, effort=effort, seed=seed, watch=own)
        return None if placement is None else PlacedOffer(offer, placement)
    choice = place_shaped(ground, offer.want, offer.freedom, effort=effort, seed=seed, watch=own)
    if choice is None:
        return None
    chosen = with_free_values(offer, choice.values, choice.placement.body)
    return PlacedOffer(replace(chosen, usual_mm3=choice.usual_mm3), choice.placement)
