"""The 3D view: a canvas, a box to tick for each layer, and a button for each straight look."""

from html import escape

from optimizer.plan_model import Plan
from optimizer.report.html import paragraph, section
from optimizer.report.scene import Scene
from optimizer.report.views import all_views
from optimizer.view.layer import Layer


def view3d(scene: Scene) -> str:
    """The stage that page.js draws on; in print, the next section's drawings take its place."""
    plan = scene.plan
    boxes = "".join(_box(layer) for layer in scene.layers)
    buttons = "".join(
        f'<button type="button" id="view-{index + 1}">{escape(view.name)}</button>'
        for index, view in enumerate(all_views(plan))
    )
    stage = (
        '<div id="stage"><canvas id="scene" tabindex="0" role="img" aria-label="'
        f'{_title(plan)}, in 3D. Arrow keys turn it, plus and minus zoom."></canvas>'
        '<p class="fallback">This browser shows no WebGL 2, so there is no 3D view here; '
        "the drawings below and scene.glb show the same.</p></div>"
    )
    hint = (
        "Drag to turn, use the wheel or pinch to zoom, hold Shift and drag to move. The rough is "
        "drawn with fewer triangles than the full model may have, from which every number comes."
    )
    return section(
        "view",
        _title(plan),
        stage,
        f'<div class="controls" role="group" aria-label="Look from">{buttons}</div>',
        f'<fieldset class="controls"><legend>Show</legend>{boxes}</fieldset>',
        paragraph(hint, "note"),
        kind="screen-only",
    )


def _title(plan: Plan) -> str:
    if not plan.stones:
        return "The rough"
    return "The stone in the rough" if len(plan.stones) == 1 else "The stones in the rough"


def _box(layer: Layer) -> str:
    checked = " checked" if layer.visible else ""
    return (
        f'<label><input type="checkbox" id="layer-{escape(layer.key)}"{checked}>'
        f'<i style="background:{escape(layer.swatch)}"></i>{escape(layer.name)}</label>'
    )
