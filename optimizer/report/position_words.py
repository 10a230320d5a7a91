"""How boundary, crystal and flaws lie in the stones, in plain sentences for page and terminal."""

from collections.abc import Iterator

from optimizer.guidance.model import DirectionView, FlawView
from optimizer.placement.zone_view import ZoneView
from optimizer.plan_model import Plan
from optimizer.report.html import (
    degrees,
    millimetres,
    number,
)
from optimizer.report.words import named


def lie_lines(plan: Plan) -> Iterator[str]:
    """For each stone: how boundary and crystal lie in it, and which flaws it holds."""
    for index, stone in enumerate(plan.stones):
        if stone.guidance:
            told = (zone_line(stone.guidance.zone), direction_line(stone.guidance.direction))
            yield from (named(plan, index, text) for text in told if text)
    yield from flaw_lines(plan)


def flaw_lines(plan: Plan) -> Iterator[str]:
    """Each flaw that ends up in a stone."""
    for index, stone in enumerate(plan.stones):
        for view in stone.guidance.flaws if stone.guidance else ():
            yield named(plan, index, flaw_line(view))


def zone_line(view: ZoneView | None) -> str | None:
    """The colour boundary as it lies in the stone."""
    if view is None:
        return None
    if view.tilt_deg is None or view.offset is None:
        return (
            f"Colour boundary {view.zone}, a {view.kind}: {view.share_percent:.1f} % of the "
            f"stone's volume is {view.colour}."
        )
    turned = "" if view.azimuth_deg is None else f", azimuth {degrees(view.azimuth_deg)}"
    return (
        f"Colour boundary {view.zone}: tilt {degrees(view.tilt_deg)}{turned}, offset "
        f"{number(view.offset)}; {view.share_percent:.1f} % of the stone's volume is {view.colour}."
    )


def direction_line(view: DirectionView | None) -> str | None:
    """How the crystal lies in the stone, as far as the rough file knows its directions."""
    if view is None:
        return None
    said = [
        f"{name} {degrees(angle)} to the table (0°: parallel to it, 90°: square to it)"
        for name, angle in view.axes_deg
    ]
    if view.cleavage_deg is not None:
        said.append(
            f"the facet nearest to a cleavage plane, {view.cleavage_facet}, lies "
            f"{degrees(view.cleavage_deg)} off it"
        )
    return "Crystal in the stone: " + "; ".join(said) + "."


def flaw_line(view: FlawView) -> str:
    """A flaw that ends up in the stone, and where."""
    turned = "" if view.azimuth_deg is None else f", azimuth {degrees(view.azimuth_deg)}"
    end = "comes to its surface" if view.reaches_surface else "lies wholly within"
    return (
        f"Flaw in the stone: {view.flaw}, {millimetres(view.below_table_mm)} below the table's "
        f"level at its highest, its middle {millimetres(view.off_axis_mm)} off the axis{turned}; "
        f"it {end}, and no part of it is seen straight below the table."
    )
