"""The problem to solve for several stones, and the settings of a search for its solution."""

from collections.abc import Callable
from dataclasses import dataclass

from optimizer.design.model import Body, Design
from optimizer.offers.offer import Offer
from optimizer.order import Workshop
from optimizer.placement.ground import Ground
from optimizer.placement.search import Watch
from optimizer.rough.model import Rough
from optimizer.several.cut_tree import cuts_of
from optimizer.several.model import Candidate, Division, PlacedStone, Wish
from optimizer.several.worth import Worth

ABOVE = 1.0 + 1e-9  # relative: a stone stays above a price break by more than rounding


def _any_look(_: PlacedStone) -> bool:
    return True


@dataclass(frozen=True)
class Instance:
    """The problem instance: what is the same for every division of the rough."""

    ground: Ground
    wishes: tuple[Wish, ...]
    worth: Worth
    sg: float
    workshop: Workshop
    look_met: Callable[[PlacedStone], bool] = _any_look  # whether a stone looks as its wish asks

    def offer_worth(self, offer: Offer, width: float) -> float:
        """What a stone of an offer's parameters is worth at a width, of which no more counts than
        the greatest ordered."""
        width = min(width, offer.want.width_mm[1])
        carat = offer.want.body.volume_at(width) * self.sg / 200.0
        return self.worth.of(offer.design, carat)

    def price_widths(self, design: Design, body: Body) -> list[float]:
        """The widths from which on a stone earns each price per carat, the least weight first."""
        widths, low = [], 0.0
        while (low := self.worth.next_break(design, low) or 0.0) > 0.0:
            widths.append(body.width_for_volume(low * 200.0 / self.sg) * ABOVE)
        return widths

    def worth_at(self, stone: PlacedStone, width: float) -> float:
        """What the stone would be worth at another width."""
        carat = stone.placement.body.volume_at(width) * self.sg / 200.0
        return self.worth.of(stone.offer.design, carat)

    def candidate(self, stone: PlacedStone) -> Candidate:
        """The stone with what it is worth."""
        return Candidate(stone, self.worth_at(stone, stone.placement.pose.width))

    def least_width_at_price(self, stone: PlacedStone) -> float:
        """The least width at which the stone still earns its present price per carat; 0 where
        every width does."""
        carat = stone.volume_mm3 * self.sg / 200.0
        lightest = self.worth.last_break(stone.offer.design, carat)
        width = stone.placement.body.width_for_volume(lightest * 200.0 / self.sg)
        return width * ABOVE

    def division_worth(self, division: Division) -> float:
        """What all stones are worth, less the cost of the cuts."""
        stones = sum(self.worth_at(s, s.placement.pose.width) for s in division.stones)
        return stones - self.worth.cut * len(cuts_of(division.cut_tree))


@dataclass(frozen=True)
class Search:
    """A problem instance, and how to search it. All steps of one search share this."""

    rough: Rough
    instance: Instance
    most: int  # stones in all
    effort: str
    seed: int
    watch: Watch
