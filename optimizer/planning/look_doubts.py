"""What was ordered of a colour, held against what the client will see and what the saw may do."""

from collections.abc import Iterator
from dataclasses import replace

from optimizer.optics.look_demands import colour_demands
from optimizer.optics.vicinity import Vicinity
from optimizer.order import LookDemand, Range
from optimizer.plan_model import Plan, Stone
from optimizer.wording.plain_number import plain


def with_look_doubts(plan: Plan) -> Plan:
    """``plan`` with its warnings about colour shares: first where the saw's error carries the look
    out of the order, last where volume and face fall on either side of the order."""
    stones = [
        _of_stone(plan, number) + text
        for number, stone in enumerate(plan.stones, 1)
        for text in _share_doubts(plan, stone)
    ]
    warnings = (*saw_look_doubts(plan), *plan.warnings, *stones)
    return replace(plan, warnings=tuple(dict.fromkeys(warnings)))


def saw_look_doubts(plan: Plan) -> tuple[str, ...]:
    """Warnings where marking and sawing, off by as much as the workshop states, carry the look out
    of a stone out of the order. They are to be read before all others."""
    return tuple(
        _of_stone(plan, number) + text
        for number, stone in enumerate(plan.stones, 1)
        for text in _saw_look_doubts(plan.asked_of(stone).look, stone.look_about)
    )


def _of_stone(plan: Plan, number: int) -> str:
    """How a sentence on one stone begins, where there are several."""
    return f"Stone {number}: " if len(plan.stones) > 1 else ""


def _saw_look_doubts(look: LookDemand | None, about: Vicinity | None) -> Iterator[str]:
    if look is None or about is None or (look.zone, look.colour) != (about.zone, about.colour):
        return
    yield from _carried_out(look, about)


def _carried_out(look: LookDemand, about: Vicinity) -> Iterator[str]:
    spans = {
        "face_percent": about.share,
        "balance_of_halves": about.halves,
        "balance_of_ends": about.ends,
        "difference_of_ends": about.ends_apart,
    }
    for demand in colour_demands(look):
        low, high = spans[demand.key]
        if low >= demand.low and high <= demand.high:
            continue
        off = f"{plain(about.off_mm)} mm and {about.off_deg:.1f}°"
        share = demand.key == "face_percent"
        seen = (
            f"{100.0 * low:.0f} to {100.0 * high:.0f} % of the face shows {about.colour}"
            if share
            else f"the {demand.key.replace('_of_', ' of the ')} is {low:.2f} to {high:.2f}"
        )
        yield (
            f"The saw's error may carry the look out of the order: with the boundary up to {off} "
            f"off {seen}, and the order asks for {demand.words}; mark and saw more closely, or "
            "grind to the boundary by eye."
        )


def _share_doubts(plan: Plan, stone: Stone) -> Iterator[str]:
    """A warning where the share of the volume meets the order and that of the face does not, or
    the other way round, and the order asks for one of the two alone."""
    asked, shares = plan.asked_of(stone), _shares(stone)
    if shares is None:
        return
    colour, of_volume, of_face = shares
    by_volume = None if asked.zone is None else asked.zone.share_percent
    by_face = None if asked.look is None else asked.look.face_percent
    if by_volume is not None and by_face is None and _parted(by_volume, of_volume, of_face):
        yield (
            f"The order's {_window(by_volume)} % {colour} is of the stone's volume, of which "
            f"{of_volume:.0f} % is {colour}; but {of_face:.0f} % of the face shows {colour}. Where "
            "the client means what the eye sees, order face_percent in [look] instead."
        )
    if by_face is not None and by_volume is None and _parted(by_face, of_face, of_volume):
        yield (
            f"The order's {_window(by_face)} % {colour} is of the face, which shows "
            f"{of_face:.0f} %; but {of_volume:.0f} % of the stone's volume is {colour}. Where the "
            "client means the volume, order share_percent in [zone] instead."
        )


def _shares(stone: Stone) -> tuple[str, float, float] | None:
    """(the colour, its percent of the volume, its percent of the face), where all are known."""
    view = None if stone.guidance is None else stone.guidance.zone
    zone = None if stone.look is None else stone.look.upright.zone
    if view is None or zone is None or stone.look is None or not zone.distinct:
        return None
    if stone.look.colouring.first.name != view.colour:
        return None
    return view.colour, view.share_percent, 100.0 * zone.share


def _parted(window: Range, meant: float, other: float) -> bool:
    low, high = window
    return low <= meant <= high and not low <= other <= high


def _window(ends: Range) -> str:
    low, high = ends
    return plain(low) if low == high else f"{plain(low)} to {plain(high)}"
