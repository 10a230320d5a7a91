"""Which stones of a division make pairs, and whether pairs still hold."""

from collections.abc import Iterable, Sequence

from optimizer.order.several import LookTolerance
from optimizer.placement.climb import MET_MM
from optimizer.several.model import PlacedStone, Wish
from optimizer.several.pairs import alike

ROUNDING_MM = 1e-9  # so that widths at their farthest apart still count as a pair

Pair = tuple[int, int, float]
"""Two stones' numbers, and how far their widths may differ in mm."""


def paired(wishes: Sequence[Wish], stones: Sequence[PlacedStone]) -> tuple[Pair, ...]:
    """Stones of one wish that look alike, each with the next in width."""
    pairs = []
    left = sorted(range(len(stones)), key=lambda k: stones[k].placement.pose.width)
    while left:
        one = left.pop(0)
        apart = wishes[stones[one].wish].pair_mm
        other = next((k for k in left if _mates(wishes, stones[one], stones[k])), None)
        if apart is not None and other is not None:
            left.remove(other)
            pairs.append((one, other, max(0.0, apart - ROUNDING_MM)))
    return tuple(pairs)


def still_paired(
    wishes: Sequence[Wish], stones: Sequence[PlacedStone], pairs: Iterable[Pair]
) -> bool:
    """Whether stones that were pairs are so now."""
    return all(
        _mates(wishes, stones[one], stones[other])
        and abs(stones[one].placement.pose.width - stones[other].placement.pose.width)
        <= apart + MET_MM
        for one, other, apart in pairs
    )


def _mates(wishes: Sequence[Wish], one: PlacedStone, other: PlacedStone) -> bool:
    within = wishes[one.wish].alike or LookTolerance()
    return one.wish == other.wish and alike(one, other, within)
