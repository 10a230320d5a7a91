"""marking.html: one self-contained page to turn the piece and mark on it what the scan lacks."""

from html import escape
from typing import Any

import numpy as np

from optimizer.marking.known import known_layers, scan_colours
from optimizer.marking.surface_data import surface_data
from optimizer.rough import describe
from optimizer.rough.flats.named_faces import PLATE
from optimizer.rough.model import Rough
from optimizer.view.layer import BOUNDARY, FLAT, FLAW, MARK, NEUTRAL, rgb
from optimizer.view.look import axis_views, slanting_view
from optimizer.view.packing import SMOOTH_FROM_TRIANGLES, box_middle, in_script, view_data
from optimizer.view.page import page_frame, texts
from optimizer.wording.plain_number import plain

_COLOURS = {"zones": BOUNDARY, "flaws": FLAW, "reference_faces": FLAT, "axis": MARK}
_SCRIPTS = ("fits.js", "pick.js", "marks.js", "unpack.js", "shown.js", "page.js")
_LEAST_STATED_MM = 0.005  # a surface that lies off by less needs no mention


def marking_html(rough: Rough, rough_file: str) -> str:
    """The whole page; ``rough_file`` is the text that the marks are added to."""
    middle = box_middle(rough.mesh.vertices)
    surface = surface_data(rough.mesh, scan_colours(rough), middle)
    views = (slanting_view(np.eye(3)), *axis_views())
    data: dict[str, Any] = {
        **view_data(rough.mesh.vertices, known_layers(rough), views),
        "surface": surface.data,
        "plain": rgb(NEUTRAL).tolist(),
        "smooth_from": SMOOTH_FROM_TRIANGLES,
        "colours": _COLOURS,
        "base": _head_and_tables(rough_file),
        "faces": [
            {
                "name": face.name,
                "normal": face.plane.normal.tolist(),
                "offset": float(face.plane.offset),
            }
            for face in rough.reference_faces
        ],
        "names": {
            "zones": [zone.name for zone in rough.zones],
            "flaws": [flaw.name for flaw in rough.flaws],
            "reference_faces": [PLATE, *(face.name for face in rough.reference_faces)],
        },
    }
    scripts = texts("optimizer.view", "view.js") + texts("optimizer.marking", *_SCRIPTS)
    styles = texts("optimizer.view", "page.css") + texts("optimizer.marking", "marking.css")
    body = _body(rough, [view.name for view in views], surface.off_mm)
    return page_frame(f"Mark {rough.title}", body, in_script(data), styles, scripts)


def _head_and_tables(rough_file: str) -> dict[str, list[str]]:
    """The lines of a rough file before its first table (head) and from there on (tables)."""
    lines = rough_file.strip().split("\n")
    first = next((k for k, line in enumerate(lines) if line.startswith("[[")), len(lines))
    return {"head": "\n".join(lines[:first]).rstrip().split("\n"), "tables": lines[first:]}


def _body(rough: Rough, views: list[str], off_mm: float) -> str:
    off = ""
    if off_mm > _LEAST_STATED_MM:
        off = (
            f"The model's {len(rough.mesh.faces):,} triangles are too many for a page. The surface "
            f"shown has fewer and lies at most {off_mm:.3f} mm off the model's."
        )
    if rough.scale.correction != 1.0:
        off += (
            " The lengths on this page are corrected, so marks belong in the rough.toml beside it. "
            'For a file with correct = "scale", divide all places by '
            f"{plain(rough.scale.correction)}."
        )
    buttons = "".join(
        f'<button type="button" id="view-{k}">{escape(name)}</button>'
        for k, name in enumerate(views, 1)
    )
    said = "".join(f"<li>{escape(line)}</li>" for line in describe(rough))
    filled = {"title": escape(rough.title), "views": buttons, "off": off, "check": said}
    body = texts("optimizer.marking", "body.html")
    for key, value in filled.items():
        body = body.replace(f"<!--{key}-->", value)
    return body
