"""The kinds of stones that a plan may hold, as the upper bounds see them.

A kind is one offer, or one box of an offer's free parameters, with the sizes that its stones can
have. Of every size, a kind knows a convex body that lies in each of its stones of that size or
larger, and a volume that none of its stones of that size or smaller exceeds.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from optimizer.design.enclosures.taylor import NoEnclosure
from optimizer.design.model import Design
from optimizer.errors import InputError
from optimizer.mesh import Floats
from optimizer.offers.bound import VolumeBound
from optimizer.offers.offer import Offer
from optimizer.placement.box import Box
from optimizer.several.instance import Instance

BISECTIONS = 60
LEAST = 0.02  # of the greatest size: no step ends between it and the least size
HALVINGS = 1  # of the ranges of free parameters
OUTWARD = 1.0 + 1e-9  # relative: more than rounding takes from a size


@dataclass(frozen=True)
class StoneKind:
    """Stones of one offer with sizes from ``low`` to ``high``: widths in mm, or, where parameters
    are free, the edges in mm of cubes of equal volume, the least girdle left out."""

    wish: int  # index
    design: Design
    low: float
    high: float
    corners_at: Callable[[float], Floats]  # (k, 3) mm: of a body in each stone so large or larger
    volume_at: Callable[[float], float]  # mm3: the most that a stone so large or smaller has
    symmetry: int  # a turn by 360°/symmetry about z maps each body onto itself

    def sizes(self, steps: int, breaks_mm3: Sequence[float]) -> Floats:
        """Sizes from the least to the greatest in so many ``steps`` of equal ratio, among them
        those from which on a stone can have one of the volumes ``breaks_mm3``."""
        even = np.geomspace(max(self.low, LEAST * self.high), self.high, steps + 1)
        even[0], even[-1] = self.low, self.high
        at_breaks = [self._least_size(v) for v in breaks_mm3]
        return np.unique([*even, *(s for s in at_breaks if self.low < s < self.high)])

    def _least_size(self, volume_mm3: float) -> float:
        low, high = self.low, self.high
        for _ in range(BISECTIONS):
            middle = 0.5 * (low + high)
            low, high = (low, middle) if self.volume_at(middle) >= volume_mm3 else (middle, high)
        return low


@dataclass(frozen=True)
class SizeClass:
    """Stones of one kind with sizes between two."""

    kind: StoneKind
    low: float
    high: float
    worth: float  # the most that a stone of the class is worth

    @staticmethod
    def of(kind: StoneKind, instance: Instance, low: float, high: float) -> "SizeClass":
        """The class with what its stones are worth at most: where a price falls at some weight, a
        stone just below that weight may be worth more than a heavier one."""
        carat = kind.volume_at(high) * instance.sg / 200.0
        breaks = [ct for ct in _breaks_ct(instance, kind.design) if ct <= carat * OUTWARD]
        worths = [_worth_below(instance, kind.design, ct) for ct in breaks]
        worth = max(instance.worth.of(kind.design, carat), *worths, 0.0)
        return SizeClass(kind, low, high, worth * OUTWARD)

    def halves(self, instance: Instance) -> "tuple[SizeClass, SizeClass]":
        """The class divided into the smaller and the larger stones."""
        middle = float(np.sqrt(self.low * self.high))
        lower = SizeClass.of(self.kind, instance, self.low, middle)
        return lower, SizeClass.of(self.kind, instance, middle, self.high)


def classes_of(kinds: Sequence[StoneKind], instance: Instance, steps: int) -> list[SizeClass]:
    """The stones of each kind in classes of about equal ratio, so many ``steps`` a kind."""
    found = []
    for kind in kinds:
        breaks = [ct * 200.0 / instance.sg for ct in _breaks_ct(instance, kind.design)]
        sizes = [float(size) for size in kind.sizes(steps, breaks)]
        pairs = pairwise(sizes) if len(sizes) > 1 else [(kind.low, kind.high)]
        found += [SizeClass.of(kind, instance, low, high) for low, high in pairs]
    return found


def _breaks_ct(instance: Instance, design: Design) -> Iterator[float]:
    low: float | None = 0.0
    while (low := instance.worth.next_break(design, low or 0.0)) is not None:
        yield low


def _worth_below(instance: Instance, design: Design, carat: float) -> float:
    """The worth of a stone just below a weight at which its price changes."""
    before = instance.worth.last_break(design, carat * (1.0 - 1e-12))
    middle = 0.5 * (before + carat)
    return instance.worth.of(design, middle) * carat / middle


def kinds_of(instance: Instance, singles: Sequence[Sequence[VolumeBound]]) -> tuple[StoneKind, ...]:
    """All kinds of an order's stones. ``singles`` bound the volume of one stone of each offer."""
    return tuple(
        kind
        for number, (wish, own) in enumerate(zip(instance.wishes, singles, strict=True))
        for offer, single in zip(wish.offers, own, strict=True)
        for kind in _of_offer(number, offer, single.volume_mm3)
        if kind.low <= kind.high
    )


def _of_offer(wish: int, offer: Offer, most_mm3: float) -> Iterator[StoneKind]:
    if offer.freedom is None:
        body, (low, high) = offer.want.body, offer.want.width_mm
        high = min(high, body.width_for_volume(most_mm3) * OUTWARD)
        turns = len(body.rotations)
        yield StoneKind(wish, offer.design, low, high, body.vertices_at, body.volume_at, turns)
        return
    boxes = [Box.whole(offer.freedom.family)]
    for _ in range(HALVINGS):
        boxes = [half for box in boxes for half in box.halves()]
    for box in boxes:
        yield _of_box(wish, offer, box, most_mm3)


def _of_box(wish: int, offer: Offer, box: Box, most_mm3: float) -> StoneKind:
    """The stones whose free parameters lie in a box. Where a facet is lost in the box, its stones
    have no body in common, and a point stands for it."""
    assert offer.freedom is not None
    limits, high = offer.freedom.limits, float(np.cbrt(most_mm3)) * OUTWARD
    try:
        core = box.core.corners
        low = box.least_size(limits)
        most = min(limits.volume_mm3[1], most_mm3)
        high = box.greatest_size(replace(limits, volume_mm3=(0.0, most))) * OUTWARD
    except (InputError, NoEnclosure):
        return StoneKind(
            wish, offer.design, 0.0, high, lambda _: np.zeros((1, 3)), lambda _: most_mm3, 1
        )
    return StoneKind(
        wish,
        offer.design,
        max(low, 0.0),
        high,
        lambda size: core * size,
        lambda size: min(box.volume_at(size), most_mm3),
        len(box.group),
    )
