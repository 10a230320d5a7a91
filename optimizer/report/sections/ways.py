"""The ways to saw the piece into several stones, side by side."""

from optimizer.documents.names import alternative_folder
from optimizer.plan_model import Plan
from optimizer.report.drawing import view_drawing
from optimizer.report.figures import total_carat, yield_percent
from optimizer.report.html import (
    carats,
    facts,
    figure,
    number,
    paragraph,
    section,
)
from optimizer.report.scene import Scene, scene_of
from optimizer.report.views import across_the_cuts


def ways(scene: Scene) -> str:
    """The plan and each alternative as a card: a drawing, its figures, and what differs."""
    plan = scene.plan
    if not plan.order.several_asked or not plan.alternatives:
        return ""
    cards = [_card(scene, "This plan.")]
    for index, other in enumerate(plan.alternatives):
        told = f"{other.sentence} Its meshes: {alternative_folder(index)}."
        cards.append(_card(scene_of(other.plan), told))
    how = (
        "Each is the best that the search found with that number of stones, sawn and checked like "
        "the plan. The drawings show the piece from where most cuts are seen on edge."
    )
    row = f'<div class="cards">{"".join(cards)}</div>'
    return section("ways", "Other ways to saw the piece", row, paragraph(how, "note"))


def _card(scene: Scene, told: str) -> str:
    plan = scene.plan
    drawing = figure(view_drawing(scene, across_the_cuts(plan)).svg, told)
    return f"<div>{drawing}{facts(_figures(plan))}</div>"


def _figures(plan: Plan) -> list[tuple[str, str]]:
    figures = [
        ("Stones", str(len(plan.stones))),
        ("Finished weight", carats(total_carat(plan))),
        ("Saw cuts", str(len(plan.sawing.cuts))),
        ("Yield", f"{number(yield_percent(plan), 1)} %"),
    ]
    paid = [stone.money for stone in plan.stones if stone.money is not None]
    if paid and plan.order.several:
        figures.append(("Paid", f"{number(sum(paid), 0)} {plan.order.several.currency}"))
    return figures
