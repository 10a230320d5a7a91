"""report.html: one self-contained page that opens from a file, without a network."""

from optimizer.report.scene import Scene
from optimizer.report.sections import SECTIONS
from optimizer.report.views import all_views
from optimizer.report.words import headline
from optimizer.view.packing import in_script, view_data
from optimizer.view.page import page_frame, texts


def page_html(scene: Scene) -> str:
    """The whole page. The browser itself is told to fetch nothing."""
    plan = scene.plan
    body = "".join(section(scene) for section in SECTIONS)
    data = view_data(plan.rough.mesh.vertices, scene.layers, all_views(plan))
    styles = texts("optimizer.view", "page.css")
    scripts = texts("optimizer.view", "view.js") + texts("optimizer.report", "page.js")
    return page_frame(headline(plan), body, in_script(data), styles, scripts)
