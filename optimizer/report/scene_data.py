"""The layers and directions of look as the page's script reads them."""

import base64
import json
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Floats
from optimizer.report.display_mesh import MOST_TRIANGLES, display_mesh
from optimizer.report.layer import Label, Layer, Lines, Part, rgb
from optimizer.report.scene import Scene
from optimizer.report.views import View

SMOOTH_FROM_TRIANGLES = 5_000  # a scan; anything lighter has facets to be seen


def scene_json(scene: Scene, views: tuple[View, ...]) -> str:
    """JSON that is safe inside a script element; lengths in mm about the rough's middle."""
    corners = scene.plan.rough.mesh.vertices
    middle = (corners.min(axis=0) + corners.max(axis=0)) / 2.0
    data = {
        "radius": float(np.linalg.norm(corners - middle, axis=1).max()),
        "views": [_view(view) for view in views],
        "layers": [_layer(layer, middle) for layer in scene.layers],
    }
    text = json.dumps(data, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c")


def _view(view: View) -> dict[str, list[float]]:
    return {"right": view.right.tolist(), "up": view.up.tolist(), "out": view.out.tolist()}


def _layer(layer: Layer, middle: Floats) -> dict[str, Any]:
    return {
        "key": layer.key,
        "opacity": layer.opacity,
        "parts": [_part(part, middle, MOST_TRIANGLES / len(layer.parts)) for part in layer.parts],
        "lines": [_lines(lines, middle) for lines in layer.lines],
        "labels": [_label(label, middle) for label in layer.labels],
    }


def _part(part: Part, middle: Floats, most_triangles: float) -> dict[str, Any]:
    light = display_mesh(part, most_triangles)
    return {
        "points": _packed((light.mesh.vertices - middle).astype("<f4")),
        "corners": _packed(light.mesh.faces.astype("<u4")),
        "colours": _packed(light.colours),
        "closed": light.closed,
        "smooth": len(light.mesh.faces) >= SMOOTH_FROM_TRIANGLES,
    }


def _lines(lines: Lines, middle: Floats) -> dict[str, Any]:
    ends = _packed((lines.ends - middle).astype("<f4"))
    return {"ends": ends, "colour": rgb(lines.colour).tolist()}


def _label(label: Label, middle: Floats) -> dict[str, Any]:
    return {"at": (label.point - middle).tolist(), "text": label.text, "colour": label.colour}


def _packed(array: NDArray[Any]) -> str:
    return base64.b64encode(np.ascontiguousarray(array).tobytes()).decode("ascii")
