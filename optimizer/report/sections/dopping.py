"""The face to dop on first, the dop, and the marks that keep the stone's directions."""

from optimizer.guidance.model import DoppingFlat, Guidance
from optimizer.report.html import (
    facts,
    millimetres,
    number,
    paragraph,
    section,
)
from optimizer.report.scene import Scene
from optimizer.report.sections.marks import marks_table
from optimizer.report.words import stone_heading


def dopping(scene: Scene) -> str:
    """For each stone: where the flat lies, which dop to take, and each mark."""
    body = [
        stone_heading(scene.plan, index) + _stone(stone.guidance)
        for index, stone in enumerate(scene.plan.stones)
        if stone.guidance
    ]
    return section("dopping", "Dopping flat and marks", *body) if body else ""


def _stone(guidance: Guidance) -> str:
    return (
        paragraph(guidance.flat.text)
        + facts(_figures(guidance.flat))
        + paragraph(guidance.dop.text)
        + marks_table("Mark the sawn piece", guidance.marks)
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
