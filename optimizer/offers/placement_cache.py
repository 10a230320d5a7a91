"""Offers laid in the rough, each once."""

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field, replace
from typing import TypeVar

from optimizer.offers.offer import Offer
from optimizer.placement.ground import Ground
from optimizer.placement.model import Placement
from optimizer.placement.place import place
from optimizer.placement.search import Watch
from optimizer.placement.shaped import place_shaped

Told = tuple[Offer, Placement]  # the offer with the parameters chosen
Made = TypeVar("Made")


@dataclass(frozen=True)
class PlacementCache:
    """Stones laid in ``ground``. Offers are told apart by their design, angles and boundary, so one
    laying serves orders that differ in their look alone."""

    ground: Ground
    seed: int
    watch: Watch
    done: dict[Hashable, object] = field(default_factory=dict)

    def __call__(self, offer: Offer, effort: str) -> Told | None:
        """The best placement found for the offer; None where none was."""
        return self.once(
            ("stone", effort, *_key(offer)),
            lambda: lay(self.ground, offer, effort, self.seed, self.watch),
        )

    def once(self, key: Hashable, work: Callable[[], Made]) -> Made:
        """What ``work`` makes, which is done once a key."""
        if key not in self.done:
            self.done[key] = work()
        return self.done[key]  # type: ignore[return-value]

    def stones(self) -> list[Told]:
        """All that were laid, the heaviest first."""
        found = [one for one in self.done.values() if isinstance(one, tuple)]
        return sorted(found, key=lambda one: -one[1].volume_mm3)


def _key(offer: Offer) -> tuple[Hashable, ...]:
    free = () if offer.freedom is None else offer.freedom.family.free
    return offer.design.name, offer.want.zone, tuple(sorted(offer.parameters.items())), free


def lay(ground: Ground, offer: Offer, effort: str, seed: int, watch: Watch) -> Told | None:
    """The best placement of one offer, and the offer with the parameters chosen."""

    def progress(stage: str, done: int, total: int, best: float) -> None:
        watch.progress(f"{offer.design.title}: {stage}", done, total, best)

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
