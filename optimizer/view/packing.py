"""Layers and views in the form that the 3D view's script reads."""

import base64
import json
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Floats
from optimizer.view.display_mesh import MOST_TRIANGLES, display_mesh
from optimizer.view.layer import ColouredMesh, Layer, Lines, TextLabel, rgb
from optimizer.view.look import View

SMOOTH_FROM_TRIANGLES = 5_000  # from here on a mesh is a scan; a lighter one has real facets


def view_data(corners: Floats, layers: Sequence[Layer], views: Sequence[View]) -> dict[str, Any]:
    """What view.js draws, in mm relative to the middle of the box around ``corners`` (n, 3)."""
    middle = box_middle(corners)
    return {
        "middle": middle.tolist(),
        "radius": float(np.linalg.norm(corners - middle, axis=1).max()),
        "views": [_view(view) for view in views],
        "layers": [_layer(layer, middle) for layer in layers],
    }


def box_middle(corners: Floats) -> Floats:
    """The middle (3,) of the box along the axes around ``corners`` (n, 3)."""
    middle: Floats = (corners.min(axis=0) + corners.max(axis=0)) / 2.0
    return middle


def in_script(data: dict[str, Any]) -> str:
    """JSON that is safe inside a script element."""
    return json.dumps(data, allow_nan=False, separators=(",", ":")).replace("<", "\\u003c")


def packed(array: NDArray[Any]) -> str:
    """The bytes of an array, row by row, in base 64."""
    return base64.b64encode(np.ascontiguousarray(array).tobytes()).decode("ascii")


def _view(view: View) -> dict[str, Any]:
    return {"right": view.right.tolist(), "up": view.up.tolist(), "out": view.out.tolist()}


def _layer(layer: Layer, middle: Floats) -> dict[str, Any]:
    return {
        "key": layer.key,
        "opacity": layer.opacity,
        "parts": [_part(part, middle, MOST_TRIANGLES / len(layer.parts)) for part in layer.parts],
        "lines": [_lines(lines, middle) for lines in layer.lines],
        "labels": [_label(label, middle) for label in layer.labels],
    }


def _part(part: ColouredMesh, middle: Floats, most_triangles: float) -> dict[str, Any]:
    light = display_mesh(part, most_triangles)
    return {
        "points": packed((light.mesh.vertices - middle).astype("<f4")),
        "corners": packed(light.mesh.faces.astype("<u4")),
        "colours": packed(light.colours),
        "closed": light.closed,
        "smooth": len(light.mesh.faces) >= SMOOTH_FROM_TRIANGLES,
    }


def _lines(lines: Lines, middle: Floats) -> dict[str, Any]:
    ends = packed((lines.ends - middle).astype("<f4"))
    return {"ends": ends, "colour": rgb(lines.colour).tolist()}


def _label(label: TextLabel, middle: Floats) -> dict[str, Any]:
    return {"at": (label.point - middle).tolist(), "text": label.text, "colour": label.colour}
