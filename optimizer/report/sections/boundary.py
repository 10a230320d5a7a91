"""The colour boundary as it lies in the finished stone."""

from optimizer.placement.zone_view import ZoneView
from optimizer.plan_model import Plan, Stone
from optimizer.report.drawing import stone_svg
from optimizer.report.html import degrees, facts, figure, number, paragraph, section
from optimizer.report.scene import Scene
from optimizer.report.views import face_up_of
from optimizer.report.words import stone_heading


def boundary(scene: Scene) -> str:
    """For each stone: the figures of the boundary, and the face with each side in its colour."""
    plan = scene.plan
    told = [
        (index, stone, stone.guidance.zone)
        for index, stone in enumerate(plan.stones)
        if stone.guidance and stone.guidance.zone
    ]
    if not told:
        return ""
    body = [stone_heading(plan, index) + _stone(plan, stone, view) for index, stone, view in told]
    note = "" if told[0][2].tilt_deg is None else paragraph(_meaning(told[0][2]), "note")
    return section("boundary", f"Colour boundary: {told[0][2].zone}", *body, note)


def _stone(plan: Plan, stone: Stone, view: ZoneView) -> str:
    drawing = stone_svg(plan, stone, face_up_of(stone))
    text = (
        "The boundary on the facets, seen from straight above the table. Light crosses from side "
        "to side inside the stone, so the finished stone mixes the colours more than this."
    )
    return facts(_figures(view)) + figure(drawing, text, "small")


def _figures(view: ZoneView) -> list[tuple[str, str]]:
    share = (f"Volume that is {view.colour}", f"{number(view.share_percent, 1)} %")
    if view.tilt_deg is None or view.offset is None:
        return [share, ("Shape", view.kind)]
    azimuth = "any" if view.azimuth_deg is None else degrees(view.azimuth_deg)
    return [
        share,
        ("Offset", number(view.offset)),
        ("Tilt", degrees(view.tilt_deg)),
        ("Azimuth", azimuth),
    ]


def _meaning(view: ZoneView) -> str:
    return (
        f"Tilt: how far the direction towards {view.colour} rises out of the girdle plane; at 0° "
        "the boundary runs parallel to the stone's axis, at ±90° it lies parallel to the table. "
        "Azimuth: which way that direction points, counter-clockwise from the length, seen from "
        "above the table. Offset: 0 where the boundary passes the middle of the stone along that "
        f"direction, −1 where all of the stone is {view.colour}, +1 where none of it is."
    )
