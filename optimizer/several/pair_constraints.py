"""The pairs of a division as constraints on its refinement, and whether they hold afterwards."""

from collections.abc import Iterable, Sequence

from optimizer.order.several import LookTolerance
from optimizer.placement.climb import MET_MM
from optimizer.several.model import PlacedStone, Wish
from optimizer.several.pairs import alike

ROUNDING_MM = 1e-9  # so that widths that differ by all of the tolerance still count as a pair

PairConstraint = tuple[int, int, float]
"""The indices of two stones, and by how many mm their widths may differ."""


def pair_constraints(
    wishes: Sequence[Wish], stones: Sequence[PlacedStone]
) -> tuple[PairConstraint, ...]:
    """Pairs of stones of one wish that look alike: from the narrowest on, each stone with the next
    in width."""
    pairs = []
    left = sorted(range(len(stones)), key=lambda k: stones[k].placement.pose.width)
    while left:
        one = left.pop(0)
        tolerance = wishes[stones[one].wish].pair_mm
        other = next((k for k in left if _look_alike(wishes, stones[one], stones[k])), None)
        if tolerance is not None and other is not None:
            left.remove(other)
            pairs.append((one, other, max(0.0, tolerance - ROUNDING_MM)))
    return tuple(pairs)


def pairs_hold(
    wishes: Sequence[Wish], stones: Sequence[PlacedStone], pairs: Iterable[PairConstraint]
) -> bool:
    """Whether all ``pairs`` still look alike and agree in width."""
    return all(
        _look_alike(wishes, stones[one], stones[other])
        and abs(stones[one].placement.pose.width - stones[other].placement.pose.width)
        <= tolerance + MET_MM
        for one, other, tolerance in pairs
    )


def _look_alike(wishes: Sequence[Wish], one: PlacedStone, other: PlacedStone) -> bool:
    within = wishes[one.wish].alike or LookTolerance()
    return one.wish == other.wish and alike(one, other, within)
