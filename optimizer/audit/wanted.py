"""Whether the plan's stones keep to the list of wanted stones: counts, pairs, usual sizes."""

from collections.abc import Sequence

import numpy as np

from optimizer.audit.common import LENGTH_MM, count, require
from optimizer.audit.pairs import require_pairs
from optimizer.audit.stones import stone_frame
from optimizer.offers.crystal import with_cleavage_clearance
from optimizer.offers.least_width import with_least_width
from optimizer.order.several import Several, Wanted
from optimizer.plan_model import Plan, Stone
from optimizer.wording.plain_number import plain


def list_is_met(plan: Plan) -> str:
    """Each entry of the order's list has as many stones as it asks for, of the kind it asks for."""
    several = plan.order.several or Several()
    require(
        len(plan.stones) <= several.most,
        "the stones in all",
        str(len(plan.stones)),
        f"at most {several.most}",
    )
    names = {wanted.name for wanted in plan.order.wanted}
    for wanted in plan.order.wanted:
        stones = [stone for stone in plan.stones if stone.wanted == wanted.name]
        _count_is_met(stones, wanted)
        for stone in stones:
            _is_of_the_list(plan, stone, wanted)
            if wanted.calibrated:
                _size_is_usual(stone, wanted)
        if wanted.pair_mm is not None:
            require_pairs(plan.rough, stones, wanted, wanted.pair_mm)
    unasked = [stone.wanted for stone in plan.stones if names and stone.wanted not in names]
    require(not unasked, "the stones' names in the list", ", ".join(unasked), "lines of the list")
    return f"{count(len(plan.stones), 'stone')} in all, of the kinds and counts that the list asks."


def _count_is_met(stones: Sequence[Stone], wanted: Wanted) -> None:
    least, most = wanted.count or (0, len(stones))
    require(
        least <= len(stones) <= most,
        f'the number of "{wanted.name}"',
        str(len(stones)),
        f"{least} to {most}",
    )


def _is_of_the_list(plan: Plan, stone: Stone, wanted: Wanted) -> None:
    """The order that the stone was planned for is the plan's order with the entry's own demands."""
    own = with_least_width(plan.order.of(wanted))
    require(
        stone.order in (own, with_cleavage_clearance(plan.rough, own)),
        f'what is asked of a "{wanted.name}"',
        "another order",
        "that of its line in the list",
    )


def _size_is_usual(stone: Stone, wanted: Wanted) -> None:
    length, width, _ = np.ptp(stone_frame(stone, stone.placement.mesh()).vertices, axis=0)
    outline = stone.design.outline.calibrated
    sizes = () if outline is None else outline.sizes
    off = [max(abs(one.width_mm - width), abs(one.length_mm - length)) for one in sizes]
    require(
        min(off, default=np.inf) <= LENGTH_MM,
        f'the size of a "{wanted.name}"',
        f"{plain(width, 9)} × {plain(length, 9)} mm measured",
        "one of the usual sizes of its outline",
    )
