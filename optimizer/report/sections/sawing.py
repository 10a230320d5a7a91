"""How to mark and saw."""

from optimizer.guidance.model import Distance, Mark
from optimizer.plan_model import Plan
from optimizer.report.html import (
    heading,
    millimetres,
    paragraph,
    point,
    section,
    table,
)
from optimizer.report.scene import Scene
from optimizer.report.sections.marks import marks_table
from optimizer.report.words import cut_line, no_cuts_line


def sawing(scene: Scene) -> str:
    """Each cut in order, with the distances that a caliper can check."""
    plan = scene.plan
    if not plan.stones:
        return ""
    if not plan.sawing.cuts:
        return section("sawing", "Mark and saw", paragraph(no_cuts_line()))
    marks = marks_table("Mark the rough before the first cut", _marks(plan))
    body = "".join(_cut(plan, index) for index in range(len(plan.sawing.cuts)))
    return section("sawing", "Mark and saw", marks, body, _in_numbers(plan))


def _marks(plan: Plan) -> tuple[Mark, ...]:
    return plan.saw_guide.marks if plan.saw_guide else ()


def _cut(plan: Plan, index: int) -> str:
    text = heading(f"Cut {index + 1}") + paragraph(cut_line(plan, index).partition(": ")[2])
    distances = plan.saw_guide.distances[index] if plan.saw_guide else ()
    return text + (_distances(distances) if distances else "")


def _distances(distances: tuple[Distance, ...]) -> str:
    rows = [
        (str(number), d.start, d.end, millimetres(d.mm), d.how)
        for number, d in enumerate(distances, 1)
    ]
    return table(("No.", "measure from", "to", "distance", "how"), rows, numbers=(0, 3))


def _in_numbers(plan: Plan) -> str:
    rows = [
        (
            str(index + 1),
            point(cut.centre),
            point(cut.plane.normal, 4),
            millimetres(cut.kerf_mm),
            millimetres(cut.depth_mm, 1),
        )
        for index, cut in enumerate(plan.sawing.cuts)
    ]
    head = ("Cut", "point on the middle of the kerf, mm", "normal", "kerf", "depth of cut")
    return heading("The cuts in the piece's own frame") + table(head, rows, numbers=(3, 4))
