"""Offers laid in the rough, each once."""

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field, replace
from math import inf
from typing import TypeVar

from optimizer.offers.offer import LEAST_WIDTH_MM, Offer
from optimizer.placement.ground import Ground
from optimizer.placement.model import Placement
from optimizer.placement.place import place
from optimizer.placement.search import Watch
from optimizer.placement.shaped import place_shaped

GLANCES = {"glance": 1, "quick": 6, "normal": 40, "thorough": 300}  # that each effort is worth
PlacedOffer = tuple[Offer, Placement]  # the offer has the parameters that were chosen
Made = TypeVar("Made")


@dataclass(frozen=True)
class PlacementCache:
    """Stones laid in ``ground``. Offers are told apart by their design, angles and boundary, so one
    cache serves orders that differ in their look alone."""

    ground: Ground
    seed: int
    watch: Watch
    most: float = inf  # work after which nothing more is laid, in glances
    laid: dict[tuple[Hashable, ...], PlacedOffer | None] = field(default_factory=dict)
    glances: dict[tuple[Hashable, ...], PlacedOffer | None] = field(default_factory=dict)
    made: dict[Hashable, object] = field(default_factory=dict)

    @property
    def work(self) -> int:
        """All that was laid so far took as long as so many glances."""
        return len(self.glances) + sum(GLANCES[str(key[0])] for key in self.laid)

    def __call__(self, offer: Offer, effort: str) -> PlacedOffer | None:
        """The best placement found for the offer; None where none was, or the work is done."""
        key = effort, *_key(offer)
        if key not in self.laid:
            if self.work >= self.most:
                return None
            self.laid[key] = lay(self.ground, offer, effort, self.seed, self.watch)
        return self.laid[key]

    def glance(self, offer: Offer) -> PlacedOffer | None:
        """The largest stone of the offer's usual angles that a glance finds, whatever least size is
        ordered, or what a quick look has found; None where there is none."""
        if known := self.laid.get(("quick", *_key(offer))):
            return known
        high = offer.want.width_mm[1]
        key = high, *_key(offer)
        if key not in self.glances:
            want = replace(offer.want, width_mm=(min(LEAST_WIDTH_MM, high), high))
            loose = replace(offer, freedom=None, want=want)
            self.glances[key] = lay(self.ground, loose, "glance", self.seed, self.watch)
        return self.glances[key]

    def once(self, key: Hashable, work: Callable[[], Made]) -> Made:
        """What ``work`` makes, which is done once a key."""
        if key not in self.made:
            self.made[key] = work()
        return self.made[key]  # type: ignore[return-value]

    def stones(self) -> list[PlacedOffer]:
        """All that were laid, the heaviest first."""
        found = [one for one in self.laid.values() if one is not None]
        return sorted(found, key=lambda one: -one[1].volume_mm3)


def _key(offer: Offer) -> tuple[Hashable, ...]:
    free = () if offer.freedom is None else offer.freedom.family.free
    return offer.design.name, offer.want.zone, tuple(sorted(offer.parameters.items())), free


def lay(ground: Ground, offer: Offer, effort: str, seed: int, watch: Watch) -> PlacedOffer | None:
    """The best placement of one offer, and the offer with the parameters chosen."""

    least = offer.want.width_mm[0]

    def progress(stage: str, done: int, total: int, best: float) -> None:
        stone = best if best >= least else 0.0  # smaller than ordered is none
        watch.progress(f"{offer.design.title}: {stage}", done, total, stone)

    told = Watch(watch.stop, progress)
    if offer.freedom is None:
        placement = place(ground, offer.want, effort=effort, seed=seed, watch=told)
        return None if placement is None else (offer, placement)
    choice = place_shaped(ground, offer.want, offer.freedom, effort=effort, seed=seed, watch=told)
    if choice is None:
        return None
    placement, family = choice.placement, offer.freedom.family
    chosen = {**family.parameters(choice.values), "girdle": placement.body.girdle_share}
    window = offer.freedom.window(placement.body)
    want = replace(offer.want, body=placement.body, width_mm=window)
    return replace(offer, parameters=chosen, want=want, usual_mm3=choice.usual_mm3), placement
