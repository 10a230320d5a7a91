"""What several stones from one piece are made of: wishes, stones laid, and the fork of cuts."""

from collections.abc import Iterator
from dataclasses import dataclass

from optimizer.mesh import Plane
from optimizer.offers.offer import Offer
from optimizer.order import Order, Workshop
from optimizer.order.several import LookTolerance
from optimizer.placement.model import Placement


@dataclass(frozen=True)
class Wish:
    """One line of an order: so many stones of one kind, each by any of the offers."""

    name: str
    order: Order  # what is asked of each stone, as an order of its own
    offers: tuple[Offer, ...]
    least: int  # fewer is no plan
    most: int
    pair_mm: float | None = None  # stones come in twos whose widths agree within this; None: single
    first: bool = False  # it is laid before the others, which share what it leaves
    alike: LookTolerance | None = None  # of pairs: how far the look of the zone may differ


@dataclass(frozen=True)
class PlacedStone:
    """A stone of a wish, laid in the rough (scan frame)."""

    wish: int  # index
    offer: Offer  # parameters chosen
    placement: Placement

    @property
    def volume_mm3(self) -> float:
        """Of the finished stone."""
        return self.placement.volume_mm3


@dataclass(frozen=True)
class Candidate:
    """A stone that a plan may hold, and what it is worth by itself."""

    laid: PlacedStone
    worth: float


@dataclass(frozen=True)
class Fork:
    """A saw cut right through a piece, and what each side of it holds: a stone's index, or another
    fork. ``plane`` is the middle of the kerf (scan frame), its normal towards ``above``."""

    plane: Plane
    below: "Fork | int"
    above: "Fork | int"


def stones_of(fork: Fork | int) -> tuple[int, ...]:
    """All stones of a fork, from below to above."""
    if isinstance(fork, int):
        return (fork,)
    return (*stones_of(fork.below), *stones_of(fork.above))


def walls_beside(fork: Fork | int, allowance_mm: float) -> Iterator[tuple[int, tuple[Plane, ...]]]:
    """Each stone's index with the planes that it stays below: the cuts on its way from the root,
    flipped where it lies above, each moved towards it by the allowance."""
    if isinstance(fork, int):
        yield fork, ()
        return
    for side, plane in ((fork.below, fork.plane), (fork.above, fork.plane.flipped())):
        wall = Plane(plane.normal, plane.offset - allowance_mm)
        for stone, others in walls_beside(side, allowance_mm):
            yield stone, (wall, *others)


def allowance_mm(workshop: Workshop) -> float:
    """Least distance from the middle of a kerf to a stone's nearest corner."""
    return workshop.kerf_mm / 2.0 + workshop.saw_error_mm + workshop.clean_up_mm


@dataclass(frozen=True)
class Division:
    """Stones and the cuts that part them: a fork over all of them, or 0 where there is but one."""

    stones: tuple[PlacedStone, ...]
    fork: Fork | int
