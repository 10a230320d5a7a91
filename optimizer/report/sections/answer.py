"""The answer first: which stone, how big, how heavy, out of how much."""

from optimizer.plan_model import Plan
from optimizer.report.figures import total_carat, yield_percent
from optimizer.report.html import (
    at_least_mm,
    bullets,
    carats,
    facts,
    heading,
    millimetres,
    number,
    paragraph,
    table,
    title,
)
from optimizer.report.nearest_words import nearest_order_lines
from optimizer.report.scene import Scene
from optimizer.report.words import (
    brighter_line,
    chosen_line,
    grave_warnings,
    headline,
    no_stone_line,
    pieces_count,
    proportion_line,
    rough_weight,
    size,
    stone_line,
    yield_line,
)


def answer(scene: Scene) -> str:
    """A sentence, the figures as cards, and what rules a stone out where there is none."""
    plan = scene.plan
    rough = plan.rough
    kicker = f"{rough.title} · {rough.material.name} · {rough_weight(rough)}"
    top = paragraph(kicker, "kicker") + title(headline(plan))
    body = _stones(plan) if plan.stones else _no_stone(plan)
    early = (
        paragraph("The search was stopped early: this is the best it had found by then.", "warning")
        if plan.interrupted
        else ""
    )
    grave = "".join(paragraph(text, "warning") for text in grave_warnings(plan))
    return f'<section id="answer">{top}{grave}{early}{body}</section>'


def _stones(plan: Plan) -> str:
    if len(plan.stones) > 1:
        return _several(plan)
    first = plan.stones[0]
    figures = [
        ("Finished weight", carats(total_carat(plan))),
        ("Yield of the rough", f"{number(yield_percent(plan), 1)} %"),
        ("Length × width", f"{first.length_mm:.2f} × {first.width_mm:.2f} mm"),
        ("Depth", millimetres(first.depth_mm)),
        ("Girdle at its thinnest", millimetres(first.girdle_mm)),
        ("Below the surface", at_least_mm(first.placement.clearance_mm)),
    ]
    lines = [stone_line(plan, index) for index in range(len(plan.stones))]
    lines += _held(plan)
    lines += [line for stone in plan.stones if (line := chosen_line(stone))]
    lines += [line for stone in plan.stones if (line := brighter_line(stone))]
    lines += [yield_line(plan), pieces_count(plan) + "."]
    return facts(figures) + bullets(lines)


def _held(plan: Plan) -> list[str]:
    held = proportion_line(plan)
    return [] if held is None else [held]


def _several(plan: Plan) -> str:
    figures = [
        ("Stones", str(len(plan.stones))),
        ("Finished weight", carats(total_carat(plan))),
        ("Yield of the rough", f"{number(yield_percent(plan), 1)} %"),
        ("Saw cuts", str(len(plan.sawing.cuts))),
    ]
    if plan.objective is not None and plan.objective.kind == "money":
        worth = f"{number(plan.objective.value, 0)} {plan.objective.unit}"
        figures.append(("Paid, less the cuts", worth))
    head = ("No.", "stone", "wanted as", "size", "weight", "paid", "in piece", "below the surface")
    rows = [_row(plan, index) for index in range(len(plan.stones))]
    table_of = table(head, rows, numbers=(0, 4, 5, 6, 7))
    lines = _held(plan) + [line for stone in plan.stones if (line := chosen_line(stone))]
    lines += [yield_line(plan), pieces_count(plan) + ".", *plan.notes]
    return facts(figures) + table_of + bullets(lines)


def _row(plan: Plan, index: int) -> tuple[str, ...]:
    stone = plan.stones[index]
    return (
        str(index + 1),
        stone.design.title,
        stone.wanted if plan.order.wanted else "–",
        size(stone).replace(" ", "\N{NO-BREAK SPACE}"),
        carats(stone.carat),
        "–" if stone.money is None else number(stone.money, 0),
        str(plan.sawing.stone_pieces[index]),
        at_least_mm(stone.placement.clearance_mm),
    )


def _no_stone(plan: Plan) -> str:
    lead, several = paragraph(no_stone_line(plan), "lead"), plan.order.several_asked
    lead += "".join(paragraph(line) for line in nearest_order_lines(plan))
    if not plan.ruled_out_by:
        found = "plan" if several else "stone"
        return lead + paragraph(f"Leaving out any one of the demands gave no {found} either.")
    rows = [
        (reason.demand, reason.stone.design.title, size(reason.stone), carats(reason.stone.carat))
        for reason in plan.ruled_out_by
    ]
    fits = "and the heaviest stone is" if several else "and this stone fits"
    head = ("Leave out this demand", fits, "size", "weight")
    return lead + heading("What rules it out") + table(head, rows, numbers=(3,))
