"""How sure the plan is: the bound, the weight's range, the allowances, the warnings."""

from optimizer.plan_model import Plan, Stone
from optimizer.planning.carat_range import CUT_TO_MM
from optimizer.report.bound_words import bound_lines
from optimizer.report.html import (
    bullets,
    heading,
    millimetres,
    number,
    paragraph,
    section,
    table,
)
from optimizer.report.position_words import flaw_lines
from optimizer.report.scene import Scene
from optimizer.report.words import measured_line, source_of, weighing_line
from optimizer.rough.flaws.shape import flaw_text
from optimizer.rough.model import Rough
from optimizer.rough.scale.weighing import sg_span
from optimizer.wording.plain_number import plain


def certainty(scene: Scene) -> str:
    """In plain words, what could still be gained and what could be off."""
    plan = scene.plan
    weight = "".join(paragraph(text) for text in _ranges(plan))
    warnings = "".join(paragraph(text, "warning") for text in plan.warnings)
    return section(
        "certainty",
        "How sure is this plan?",
        heading(
            "Could a heavier stone be in there?"
            if plan.stones
            else "The heaviest stone there could be"
        ),
        bullets(bound_lines(plan)),
        heading("What the weight depends on") if weight else "",
        weight,
        heading("Allowances used"),
        table(("Allowance", "mm", "what it is for"), _allowances(plan), numbers=(1,)),
        *_flaws(plan),
        *_measured(plan),
        heading("Mended in the model") if plan.rough.repairs else "",
        bullets(repair.sentence for repair in plan.rough.repairs),
        heading("Warnings") if warnings else "",
        warnings,
    )


def _measured(plan: Plan) -> tuple[str, ...]:
    """Where the piece was built from readings: its frame, and what was assumed."""
    readings = plan.rough.readings
    if readings is None:
        return ()
    lead = paragraph(measured_line(readings))
    return (heading("Measured by hand"), lead, bullets(readings.notes))


def _flaws(plan: Plan) -> tuple[str, ...]:
    """Each flaw, where it lies and how far the stone keeps from it."""
    told = [f"{flaw.name}: {flaw_text(flaw)}." for flaw in plan.rough.flaws]
    hint = (
        "Places are in the piece's own frame, in mm. The plan knows only the flaws that the rough "
        "file names: look into the piece again before each cut."
    )
    within = list(flaw_lines(plan))
    return (heading("Flaws"), bullets([*told, *within]), paragraph(hint)) if told else ()


def _ranges(plan: Plan) -> list[str]:
    low_sg, high_sg = sg_span(plan.rough)
    density = (
        f"specific gravity may lie between {plain(low_sg, 4)} and {plain(high_sg, 4)} and "
        if low_sg < high_sg
        else ""
    )
    weighing = weighing_line(plan)
    return ([weighing] if weighing else []) + [
        f"Stone {index + 1}: {number(stone.carat_range[0])} to {number(stone.carat_range[1])} ct, "
        f"because {density}{_size_error(plan, stone)}."
        for index, stone in enumerate(plan.stones)
    ]


def _size_error(plan: Plan, stone: Stone) -> str:
    if stone.cut_to_size:
        return f"hands may cut the width {millimetres(CUT_TO_MM)} off"
    return f"the {source_of(plan.rough)} may be off by {millimetres(plan.rough.scan_error_mm)}"


def _allowances(plan: Plan) -> list[tuple[str, str, str]]:
    shop = plan.order.workshop
    return [
        (
            f"Error of the {source_of(plan.rough)}",
            number(plan.rough.scan_error_mm),
            _scan_error(plan.rough),
        ),
        ("Clean-up", number(shop.clean_up_mm), "what comes off any surface to reach sound facets"),
        ("Saw error", number(shop.saw_error_mm), "marking and the blade's wander"),
        ("Kerf", number(shop.kerf_mm), "the full width that the blade removes"),
    ]


def _scan_error(rough: Rough) -> str:
    scale = rough.scale
    if scale.error_mm == 0.0:
        return f"how far the {source_of(rough)} may be off"
    return (
        f"how far the {source_of(rough)} may be off, {millimetres(scale.error_mm)} of it by its "
        f"scale, which is known to {plain(100.0 * scale.error, 2)} % by {scale.source}"
    )
