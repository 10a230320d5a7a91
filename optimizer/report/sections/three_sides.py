"""Still drawings of the stone in its rough, for paper and for browsers without 3D."""

from optimizer.report.drawing import view_drawing
from optimizer.report.html import figure, paragraph, section
from optimizer.report.scene import Scene
from optimizer.report.views import straight_views
from optimizer.view.look import View


def three_sides(scene: Scene) -> str:
    """The three straight looks side by side, to one scale."""
    figures = "".join(_figure(scene, view) for view in straight_views(scene.plan))
    hint = "Cuts, flat and colour boundary are drawn where they are seen on edge or nearly so."
    row = f'<div class="row">{figures}</div>'
    return section("sides", "From three sides", row, paragraph(hint, "note"))


def _figure(scene: Scene, view: View) -> str:
    drawing = view_drawing(scene, view)
    return figure(drawing.svg, f"{view.name}: {view.text}", share=drawing.wide_mm)
