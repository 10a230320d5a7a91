"""Where the boundary may lie, and what the face shows then."""

from optimizer.optics.vicinity import Vicinity
from optimizer.plan_model import Plan
from optimizer.report.boundary_words import look_line
from optimizer.report.html import figure, paragraph, section
from optimizer.report.map_drawing import map_svg
from optimizer.report.scene import Scene
from optimizer.report.words import stone_heading


def look_map(scene: Scene) -> str:
    """For each stone a sentence, and the map about the plan: offset against azimuth, and tilt."""
    plan = scene.plan
    maps = [
        stone_heading(plan, index) + _map(plan, stone.look_about)
        for index, stone in enumerate(plan.stones)
        if stone.look_about is not None
    ]
    how = (
        "Each number is the percentage of the face that shows the colour, seen from above under an "
        "open sky. The ring marks the plan; the dashed box shows how far marking and sawing may be "
        "off."
    )
    if not maps:
        return ""
    return section("look-map", "If the boundary lay elsewhere", *maps, paragraph(how, "note"))


def _map(plan: Plan, about: Vicinity) -> str:
    zone = next(zone for zone in plan.rough.zones if zone.name == about.zone)
    named = zone.towards.name == about.colour
    one, other = (zone.towards, zone.away) if named else (zone.away, zone.towards)
    drawings = [
        figure(map_svg(about, (one.srgb, other.srgb), by=by), f"By offset and {by}", share=1.0)
        for by in ("azimuth", "tilt")
    ]
    return paragraph(look_line(about), "lead") + f'<div class="row">{"".join(drawings)}</div>'
