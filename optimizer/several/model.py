"""The data of plans for several stones: wishes, placed stones, candidates, and divisions."""

from dataclasses import dataclass

from optimizer.offers.offer import Offer
from optimizer.order import Order, Workshop
from optimizer.order.several import LookTolerance
from optimizer.placement.model import Placement
from optimizer.several.cut_tree import CutTree, without_leaf


@dataclass(frozen=True)
class Wish:
    """One line of an order: some number of stones of one kind, each by any of the offers."""

    name: str
    order: Order  # what is asked of each stone, as an order of its own
    offers: tuple[Offer, ...]
    least: int  # a plan with fewer stones is not accepted
    most: int
    pair_mm: float | None = None  # greatest difference in width within a pair; None: single stones
    first: bool = False  # placed before the stones of other wishes, which share what is left
    alike: LookTolerance | None = None  # of pairs: how far the look of the zone may differ


@dataclass(frozen=True)
class PlacedStone:
    """A stone of a wish at its place in the rough (scan frame)."""

    wish: int  # index
    offer: Offer  # with the parameters chosen
    placement: Placement

    @property
    def volume_mm3(self) -> float:
        """Volume of the finished stone."""
        return self.placement.volume_mm3


@dataclass(frozen=True)
class Candidate:
    """A stone that a plan may contain, and what the stone is worth by itself."""

    stone: PlacedStone
    worth: float


@dataclass(frozen=True)
class Division:
    """Stones and the cuts that separate them: a tree over all stones, or 0 for a single stone."""

    stones: tuple[PlacedStone, ...]
    cut_tree: CutTree | int

    def without(self, number: int) -> "Division":
        """The division without one of its stones and the last cut that separated it."""
        stones = (*self.stones[:number], *self.stones[number + 1 :])
        return Division(stones, without_leaf(self.cut_tree, number))

    def with_stone(self, number: int, stone: PlacedStone) -> "Division":
        """The division with one of its stones replaced; the cuts stay."""
        return Division((*self.stones[:number], stone, *self.stones[number + 1 :]), self.cut_tree)


def allowance_mm(workshop: Workshop) -> float:
    """Least distance from the middle of a kerf to the nearest corner of a stone."""
    return workshop.kerf_mm / 2.0 + workshop.saw_error_mm + workshop.clean_up_mm
