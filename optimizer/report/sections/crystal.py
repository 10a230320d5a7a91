"""How the crystal lies in the finished stone."""

from optimizer.guidance.model import DirectionView
from optimizer.report.html import degrees, facts, paragraph, section
from optimizer.report.scene import Scene
from optimizer.report.words import stone_heading


def crystal(scene: Scene) -> str:
    """The angles of axes and cleavage, where the rough file knows them."""
    plan = scene.plan
    body = [
        stone_heading(plan, index) + facts(_figures(stone.guidance.direction))
        for index, stone in enumerate(plan.stones)
        if stone.guidance and stone.guidance.direction
    ]
    if not body:
        return ""
    return section(
        "crystal",
        "Crystal in the stone",
        *body,
        paragraph(
            "At 0° an axis runs parallel to the table, at 90° square to it. At 0° a facet is "
            "parallel to a cleavage plane.",
            "note",
        ),
    )


def _figures(view: DirectionView) -> list[tuple[str, str]]:
    figures = [
        (f"{name.capitalize()} to the table", degrees(angle)) for name, angle in view.axes_deg
    ]
    if view.cleavage_deg is not None:
        nearest = f"{degrees(view.cleavage_deg)} ({view.cleavage_facet})"
        figures.append(("Nearest facet to a cleavage plane", nearest))
    return figures
