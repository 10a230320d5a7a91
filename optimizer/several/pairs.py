"""Whether two stones make a pair: equal in shape and width, and alike in their colour boundary."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.mesh import Floats
from optimizer.order.demands import Range
from optimizer.order.several import LookTolerance
from optimizer.placement.place import Want
from optimizer.placement.zone_view import UPRIGHT_DEG
from optimizer.several.model import PlacedStone, Wish

INSIDE = 0.8  # of a tolerance, in the search: the refinement moves stones a little
ROUNDING = 1e-9  # of a parameter: equal parameters differ by no more


@dataclass(frozen=True)
class _BoundaryView:
    """A flat colour boundary in the stone frame."""

    normal: Floats  # (3,) unit, towards the ordered colour
    offset: float  # as orders count it: ±1 just touches the stone


def alike(one: PlacedStone, other: PlacedStone, within: LookTolerance) -> bool:
    """Whether two stones have one design and the same parameters and, where their wish speaks of a
    flat boundary, show the boundary alike. Their widths are not compared.

    Turns that map the design onto itself count as alike. So does the mirror image across the
    stone's length (left and right hand) where ``within`` allows it. Azimuths are not compared
    within 1° of tilt ±90°. Where the boundary crosses neither stone, only the colour is compared.
    """
    if not _same_shape(one, other):
        return False
    first, second = _boundary_view(one), _boundary_view(other)
    if first is None or second is None:
        return first is second
    if min(abs(first.offset), abs(second.offset)) >= 1.0:
        return bool(first.offset * second.offset > 0.0)
    if abs(first.offset - second.offset) > within.offset:
        return False
    hands = [np.ones(3), np.array([1.0, -1.0, 1.0])] if within.mirrored else [np.ones(3)]
    turns = one.placement.body.rotations
    return any(_near(first.normal, t @ (h * second.normal), within) for h in hands for t in turns)


def pairs_of(stones: Sequence[PlacedStone], wishes: Sequence[Wish]) -> tuple[tuple[int, int], ...]:
    """The pairs among the stones of wishes for pairs: from the narrowest on, each stone with the
    next in width that matches it."""
    left = [k for k, stone in enumerate(stones) if wishes[stone.wish].pair_mm is not None]
    left.sort(key=lambda k: stones[k].placement.pose.width)
    found = []
    while left:
        one = left.pop(0)
        mate = next((k for k in left if is_pair(stones[one], stones[k], wishes)), None)
        if mate is not None:
            left.remove(mate)
            found.append((min(one, mate), max(one, mate)))
    return tuple(sorted(found))


def unpaired(stones: Sequence[PlacedStone], wishes: Sequence[Wish]) -> tuple[int, ...]:
    """The stones of wishes for pairs that have no partner; rising."""
    paired = {k for pair in pairs_of(stones, wishes) for k in pair}
    wanted = (k for k, stone in enumerate(stones) if wishes[stone.wish].pair_mm is not None)
    return tuple(k for k in wanted if k not in paired)


def is_pair(one: PlacedStone, other: PlacedStone, wishes: Sequence[Wish]) -> bool:
    """Whether two stones make a pair of their wish: equal in width within its tolerance, and
    alike."""
    wish = wishes[one.wish]
    if wish.pair_mm is None or one.wish != other.wish:
        return False
    widths = one.placement.pose.width, other.placement.pose.width
    return abs(widths[0] - widths[1]) <= wish.pair_mm and alike(
        one, other, wish.alike or LookTolerance()
    )


def partner_want(want: Want, first: PlacedStone, wish: Wish) -> Want:
    """What is asked of the second stone of a pair, once the first is placed: no wider than matches
    the first, and, where the wish speaks of a flat boundary, with the boundary much as in the
    first."""
    low, high = want.width_mm
    width = (low, min(high, first.placement.pose.width + (wish.pair_mm or 0.0)))
    view = _boundary_view(first)
    if view is None or want.zone is None:
        return replace(want, width_mm=width)
    within = wish.alike or LookTolerance()
    tilt = float(np.degrees(np.arcsin(np.clip(view.normal[2], -1.0, 1.0))))
    azimuth = float(np.degrees(np.arctan2(view.normal[1], view.normal[0])))
    upright = 90.0 - abs(tilt) <= UPRIGHT_DEG
    zone = replace(
        want.zone,
        tilt_deg=_about(tilt, within.tilt_deg, want.zone.tilt_deg),
        azimuth_deg=want.zone.azimuth_deg
        if upright
        else _about(azimuth, within.azimuth_deg, want.zone.azimuth_deg),
        offset=_about(view.offset, within.offset, want.zone.offset),
    )
    return replace(want, width_mm=width, zone=zone)


def _about(value: float, within: float, asked: Range | None) -> Range:
    """The range about a value, inside the range asked."""
    low, high = value - INSIDE * within, value + INSIDE * within
    return (low, high) if asked is None else (max(low, asked[0]), min(high, asked[1]))


def _same_shape(one: PlacedStone, other: PlacedStone) -> bool:
    mine, yours = one.offer.parameters, other.offer.parameters
    return (
        one.offer.design.name == other.offer.design.name
        and mine.keys() == yours.keys()
        and all(abs(mine[key] - yours[key]) <= ROUNDING for key in mine)
    )


def _boundary_view(stone: PlacedStone) -> _BoundaryView | None:
    """The boundary that the stone's offer speaks of; None where it speaks of none."""
    boundary, pose = stone.offer.want.boundary, stone.placement.pose
    if boundary is None:
        return None
    normal = boundary.normal @ pose.rotation
    level = boundary.offset - float(boundary.normal @ pose.translation)
    heights = stone.placement.body.vertices_at(pose.width) @ normal
    middle, half = (heights.max() + heights.min()) / 2.0, (heights.max() - heights.min()) / 2.0
    return _BoundaryView(normal, float((level - middle) / half))


def _near(one: Floats, other: Floats, within: LookTolerance) -> bool:
    """Whether two unit normals agree in tilt and azimuth."""
    tilts = np.degrees(np.arcsin(np.clip([one[2], other[2]], -1.0, 1.0)))
    if abs(tilts[0] - tilts[1]) > within.tilt_deg:
        return False
    if np.any(90.0 - np.abs(tilts) <= UPRIGHT_DEG):
        return True
    apart = np.degrees(np.arctan2(one[1], one[0]) - np.arctan2(other[1], other[0]))
    return bool(abs((apart + 180.0) % 360.0 - 180.0) <= within.azimuth_deg)
