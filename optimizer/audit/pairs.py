"""Whether stones that were ordered in pairs match: in shape, width and colour boundary."""

from collections.abc import Callable, Sequence
from itertools import product

import numpy as np

from optimizer.audit.common import ANGLE_DEG, LENGTH_MM, OFFSET, RELATIVE, count, require
from optimizer.audit.demands import zone_view
from optimizer.audit.stones import stone_frame
from optimizer.order import Order
from optimizer.order.several import LookTolerance, Wanted
from optimizer.placement.zone_view import ZoneView
from optimizer.plan_model import Stone
from optimizer.rough.model import Rough
from optimizer.wording.plain_number import plain


def require_pairs(rough: Rough, stones: Sequence[Stone], wanted: Wanted, within_mm: float) -> None:
    """Raise AuditError unless all ``stones`` can be grouped into matching pairs."""
    views = [_view(rough, stone) for stone in stones]
    widths = [_width_mm(stone) for stone in stones]

    def match(i: int, j: int) -> bool:
        return (
            _one_shape(stones[i], stones[j])
            and abs(widths[i] - widths[j]) <= within_mm + LENGTH_MM
            and _seen_alike(views[i], views[j], wanted.alike, _turns_deg(stones[i]))
        )

    require(
        _in_twos(tuple(range(len(stones))), match),
        f'the pairs of "{wanted.name}"',
        f"{count(len(stones), 'stone')} that don't all match in twos",
        f"one shape, widths within {plain(within_mm)} mm, boundaries alike",
    )


def _in_twos(remaining: tuple[int, ...], match: Callable[[int, int], bool]) -> bool:
    """Whether all can be grouped into matching pairs: the first is tried with each other one."""
    if not remaining:
        return True
    first, *others = remaining
    return any(
        match(first, other) and _in_twos(tuple(k for k in others if k != other), match)
        for other in others
    )


def _width_mm(stone: Stone) -> float:
    return float(np.ptp(stone_frame(stone, stone.placement.mesh()).vertices[:, 1]))


def _one_shape(one: Stone, other: Stone) -> bool:
    return one.design.name == other.design.name and all(
        abs(value - other.parameters.get(key, np.inf)) <= RELATIVE * max(1.0, abs(value))
        for key, value in one.parameters.items()
    )


def _view(rough: Rough, stone: Stone) -> ZoneView | None:
    """The view of the boundary that the stone's own order asks about; None where it is no plane."""
    asked = None if stone.order is None else _boundary_asked(stone.order)
    if asked is None:
        return None
    view = zone_view(stone, stone.placement.mesh(), rough, *asked)
    return view if view.kind == "plane" else None


def _boundary_asked(order: Order) -> tuple[str, str] | None:
    """The name and colour of the boundary that the order asks about."""
    if order.zone is not None:
        return order.zone.name, order.zone.colour
    look = order.look
    if look is None or look.zone is None or look.colour is None:
        return None
    return look.zone, look.colour


def _turns_deg(stone: Stone) -> list[float]:
    """The rotations about the axis that map the design onto itself, in degrees."""
    turns = stone.placement.body.rotations
    return [float(np.degrees(np.arctan2(turn[1, 0], turn[0, 0]))) for turn in turns]


def _seen_alike(
    one: ZoneView | None, other: ZoneView | None, within: LookTolerance, turns_deg: Sequence[float]
) -> bool:
    if one is None or other is None:
        return one is other
    assert one.offset is not None
    assert other.offset is not None
    if min(abs(one.offset), abs(other.offset)) >= 1.0:  # it crosses neither
        return one.offset * other.offset > 0.0
    assert one.tilt_deg is not None
    assert other.tilt_deg is not None
    return (
        abs(one.offset - other.offset) <= within.offset + OFFSET
        and abs(one.tilt_deg - other.tilt_deg) <= within.tilt_deg + ANGLE_DEG
        and _azimuths_alike(one.azimuth_deg, other.azimuth_deg, within, turns_deg)
    )


def _azimuths_alike(
    one: float | None, other: float | None, within: LookTolerance, turns_deg: Sequence[float]
) -> bool:
    """Whether two azimuths agree after a rotation that maps the design onto itself, and after
    mirroring across the length where mirror images count as alike."""
    if one is None or other is None:
        return True
    hands = (1.0, -1.0) if within.mirrored else (1.0,)
    apart = [(one - hand * other - turn) % 360.0 for hand, turn in product(hands, turns_deg)]
    return any(min(way, 360.0 - way) <= within.azimuth_deg + ANGLE_DEG for way in apart)
