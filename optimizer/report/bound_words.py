"""What is proved about heavier stones, in plain sentences for page and terminal."""

from collections.abc import Iterator, Mapping

from optimizer.offers.bound import Bound
from optimizer.plan_model import Plan
from optimizer.report.figures import gap_percent, total_carat
from optimizer.report.html import (
    carats,
    millimetres,
)


def bound_lines(plan: Plan) -> Iterator[str]:
    """What is proved about heavier stones, and how much room that leaves."""
    if plan.bound is None:
        yield "Nothing is proved about heavier stones."
        return
    if plan.status == "impossible":
        over = _and_values(plan.bound)
        yield f"It is proved over every position{over}: no stone can be large enough."
        yield from _covers(plan.bound)
        return
    carat = total_carat(plan)
    yield f"No plan with the designs covered can weigh more than {carats(plan.bound.carat)}."
    gap = gap_percent(plan.bound, carat)
    if gap is not None:
        room, over = plan.bound.carat - carat, _and_values(plan.bound)
        yield (
            f"This plan weighs {carats(carat)}, so at most {carats(room)} ({gap:.1f} %) more is "
            f"possible. The bound is proved over every position{over}; it doesn't say that more "
            "can be had."
        )
    yield from _worth_of_the_saw(plan)
    yield from _covers(plan.bound)
    if plan.bound.uses:
        yield f"The bound takes into account: {'; '.join(plan.bound.uses)}."
    if plan.bound.ignores:
        yield (
            f"The bound leaves out: {'; '.join(plan.bound.ignores)}. "
            "What these cost in weight is part of the gap."
        )


def _worth_of_the_saw(plan: Plan) -> Iterator[str]:
    """The weight of the workshop's own error, to compare the gap with."""
    error = plan.order.workshop.saw_error_mm
    for stone in plan.stones[:1]:
        width = stone.placement.pose.width
        if 0.0 < error < width:
            narrower = stone.carat * (
                1.0 - stone.placement.body.volume_at(width - error) / stone.volume_mm3
            )
            yield (
                f"For comparison: a stone {millimetres(error)} narrower, as far as marking and "
                f"sawing may be off, weighs {carats(narrower)} less."
            )


def _covers(bound: Bound) -> Iterator[str]:
    designs = bound.covers.get("designs")
    if isinstance(designs, list | tuple) and designs:
        only = ", at the angles and proportions listed in plan.json" if _fixed(bound) else ""
        only += ", each free one over its whole range" if _ranging(bound) else ""
        yield f"Designs covered: {', '.join(str(name) for name in designs)}{only}."


def _and_values(bound: Bound) -> str:
    """What the bound is proved over besides every position, in words."""
    return ", rotation and value of the free parameters" if _ranging(bound) else " and rotation"


def _fixed(bound: Bound) -> bool:
    return bool(bound.covers.get("parameters"))


def _ranging(bound: Bound) -> bool:
    covered = bound.covers.get("parameters")
    each = covered.values() if isinstance(covered, Mapping) else ()
    return any(isinstance(v, tuple) for values in each for v in values.values())
