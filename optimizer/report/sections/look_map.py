"""Where the boundary may lie, and what the face shows then."""

from optimizer.report.boundary_words import look_line
from optimizer.report.html import figure, paragraph, section
from optimizer.report.map_drawing import map_svg
from optimizer.report.scene import Scene


def look_map(scene: Scene) -> str:
    """A sentence, and the map about the plan: offset against azimuth, and against tilt."""
    about = scene.plan.look_about
    if about is None:
        return ""
    zone = next(zone for zone in scene.plan.rough.zones if zone.name == about.zone)
    named = zone.towards.name == about.colour
    one, other = (zone.towards, zone.away) if named else (zone.away, zone.towards)
    drawings = [
        figure(map_svg(about, (one.srgb, other.srgb), by=by), f"By offset and {by}", share=1.0)
        for by in ("azimuth", "tilt")
    ]
    how = (
        f"Each number is the percentage of the face that shows {about.colour}, seen from above "
        "under an open sky. The ring marks the plan; the dashed box shows how far marking and "
        "sawing may be off."
    )
    return section(
        "look-map",
        "If the boundary lay elsewhere",
        paragraph(look_line(about), "lead"),
        f'<div class="row">{"".join(drawings)}</div>',
        paragraph(how, "note"),
    )
