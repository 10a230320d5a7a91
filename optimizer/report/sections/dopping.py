"""The face to dop on first, the dop, and the marks that keep the stone's directions."""

from optimizer.guidance.model import DoppingFlat, Guidance, Mark
from optimizer.plan_model import Plan
from optimizer.report.html import (
    facts,
    heading,
    millimetres,
    number,
    paragraph,
    point,
    section,
    table,
)

PLACES = {"rough": "On the rough, before the first cut", "sawn piece": "On the sawn piece"}


def dopping(plan: Plan) -> str:
    """Where the flat lies, which dop to take, and each mark."""
    guidance = plan.guidance
    if guidance is None:
        return ""
    return section(
        "dopping",
        "Dopping flat and marks",
        paragraph(guidance.flat.text),
        facts(_figures(guidance.flat)),
        paragraph(guidance.dop.text),
        *(_marks(guidance, place) for place in PLACES),
    )


def _figures(flat: DoppingFlat) -> list[tuple[str, str]]:
    made = (
        ("To grind", millimetres(flat.depth_to_grind_mm))
        if flat.sawn_by is None
        else ("Made by", f"saw cut {flat.sawn_by + 1}")
    )
    return [
        ("Above the finished table", millimetres(flat.above_table_mm)),
        made,
        ("Area of the flat", f"{number(flat.area_mm2, 1)} mm²"),
        ("Largest circle about the axis", millimetres(flat.circle_mm, 1)),
    ]


def _marks(guidance: Guidance, place: str) -> str:
    rows = [_row(mark) for mark in guidance.marks if mark.on == place]
    if not rows:
        return ""
    return heading(PLACES[place]) + table(("Mark", "what it is", "at, mm (scan)"), rows)


def _row(mark: Mark) -> tuple[str, str, str]:
    return mark.name, mark.text, point(mark.point)
