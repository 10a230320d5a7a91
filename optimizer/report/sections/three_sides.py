"""Still drawings of the stone in its rough, for paper and for browsers without 3D."""

from optimizer.plan_model import Plan
from optimizer.report.drawing import view_drawing
from optimizer.report.html import figure, section
from optimizer.report.scene import Layer, layers
from optimizer.report.views import View, straight_views


def three_sides(plan: Plan) -> str:
    """The three straight looks side by side, to one scale."""
    drawn = layers(plan)
    figures = "".join(_figure(plan, view, drawn) for view in straight_views(plan))
    return section("sides", "From three sides", f'<div class="row">{figures}</div>')


def _figure(plan: Plan, view: View, drawn: tuple[Layer, ...]) -> str:
    drawing = view_drawing(plan, view, drawn)
    return figure(drawing.svg, f"{view.name}: {view.text}", share=drawing.wide_mm)
