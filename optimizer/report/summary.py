"""The plan as plain lines for the terminal, the answer first."""

from collections.abc import Iterator

from optimizer.optics.look_words import short_line
from optimizer.plan_model import Plan
from optimizer.report import words
from optimizer.report.bound_words import bound_lines
from optimizer.report.boundary_words import look_line
from optimizer.report.constraint_words import constraint_lines
from optimizer.report.nearest_words import nearest_order_lines
from optimizer.report.offcut_words import balance_line, offcut_lines
from optimizer.report.position_words import lie_lines
from optimizer.wording.minus import MINUS

# Signs that a terminal without Unicode can't show.
TYPED = str.maketrans({MINUS: "-", "\N{RIGHTWARDS ARROW}": "->"})


def summary(plan: Plan) -> list[str]:
    """Plain lines in the order in which a cutter needs them; empty lines separate groups."""
    grave = words.grave_warnings(plan)
    lines = [words.headline(plan), *(f"Warning: {text}" for text in grave)]
    if plan.interrupted:
        lines.append("The search was stopped early: this is the best it had found by then.")
    held = words.proportion_line(plan)
    lines += [held] if held else []
    lines += _with_stone(plan) if plan.stones else _without_stone(plan)
    lines += ["", *bound_lines(plan)]
    if plan.rough.readings:
        lines.append(words.measured_line(plan.rough.readings))
    lines += [f"Mended in the model: {repair.sentence}" for repair in plan.rough.repairs]
    lines += [f"Warning: {text}" for text in plan.warnings if text not in grave]
    lines += ["", *(f"Caution: {text}" for text in words.cautions(plan))]
    return [line.translate(TYPED) for line in lines]


def _with_stone(plan: Plan) -> Iterator[str]:
    for index in range(len(plan.stones)):
        yield words.stone_line(plan, index)
        chosen = words.chosen_line(plan.stones[index])
        if chosen:
            yield chosen
        brighter = words.brighter_line(plan.stones[index])
        if brighter:
            yield brighter
    yield words.yield_line(plan)
    yield from plan.notes
    yield from lie_lines(plan)
    yield from _looks(plan)
    yield from constraint_lines(plan)
    if plan.alternatives or plan.not_had:
        yield ""
        yield "Instead, from the same piece:"
        yield from (f"- {other.sentence}" for other in plan.alternatives)
        yield from (f"- {sentence}" for sentence in plan.not_had)
    yield ""
    if not plan.sawing.cuts:
        yield words.no_cuts_line()
    for index in range(len(plan.sawing.cuts)):
        yield words.cut_line(plan, index)
    if plan.sawing.cuts:
        yield balance_line(plan)
        yield from offcut_lines(plan)
    yield from words.dopping_lines(plan)


def _looks(plan: Plan) -> Iterator[str]:
    """For each stone: where its boundary is put, and how the stone looks."""
    for index, stone in enumerate(plan.stones):
        if stone.look_about is not None:
            yield words.named(plan, index, look_line(stone.look_about))
        if stone.look is not None:
            yield words.named(plan, index, short_line(stone.look))


def _without_stone(plan: Plan) -> Iterator[str]:
    yield words.no_stone_line(plan)
    yield from nearest_order_lines(plan)
    for reason in plan.ruled_out_by:
        yield words.ruled_out_line(plan, reason)
