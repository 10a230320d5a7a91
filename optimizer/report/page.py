"""report.html: one self-contained page that opens from a file, without a network."""

from html import escape
from importlib.resources import files

from optimizer.report.scene import Scene
from optimizer.report.scene_data import scene_json
from optimizer.report.sections import SECTIONS
from optimizer.report.views import all_views
from optimizer.report.words import headline

POLICY = "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:"


def page_html(scene: Scene) -> str:
    """The whole page. The browser itself is told to fetch nothing."""
    plan = scene.plan
    body = "".join(section(scene) for section in SECTIONS)
    data = scene_json(scene, all_views(plan))
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark">'
        f"<title>{escape(headline(plan))}</title><style>{_own('page.css')}</style></head>"
        f"<body><main>{body}</main>"
        f'<script type="application/json" id="scene-data">{data}</script>'
        f"<script>{_own('page.js')}</script></body></html>\n"
    )


def _own(name: str) -> str:
    return files("optimizer.report").joinpath(name).read_text(encoding="utf-8")
