"""Still line drawings as SVG: the stone in its rough from one side, and the stone alone."""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import numpy as np

from optimizer.mesh import Floats, Mesh, unit_normals
from optimizer.plan_model import Plan, Stone
from optimizer.report.edges import facet_edges
from optimizer.report.outline import outline
from optimizer.report.scene import Scene, halves, main_zone
from optimizer.rough.model import Zone
from optimizer.rough.zones.solid import on_boundary
from optimizer.solid import as_solid
from optimizer.view.layer import EDGE, STONE, Layer, TextLabel, rgb
from optimizer.view.look import View, round_length

EDGE_ON = 0.1  # sine of 6 degrees: planes at a greater angle to the view only clutter a drawing


@dataclass(frozen=True)
class Drawing:
    """An SVG element and the width in mm that it covers, margins included."""

    svg: str
    wide_mm: float


def view_drawing(scene: Scene, view: View) -> Drawing:
    """The rough's outline, the stones, the flaws, and the planes that are seen nearly on edge.

    Pen, margin and rule follow the rough's longest side, so that all views match.
    """
    plan = scene.plan
    contours = outline(scene.rough, view)
    longest = float(np.ptp(plan.rough.mesh.vertices, axis=0).max())
    pen = 0.004 * longest
    inside = [_closed(contours, "var(--tint)", "var(--soft)", pen), _tints(scene, view, pen)]
    inside += [stone_shapes(plan, stone, view, pen) for stone in plan.stones]
    if len(plan.stones) > 1:
        inside += [_numbered(stone, k, view, pen) for k, stone in enumerate(plan.stones, 1)]
    corners = np.concatenate(contours)
    middle = float(corners[:, 0].max() + corners[:, 0].min()) / 2.0
    for layer in scene.layers:
        if layer.key == "flaws":
            inside.append(_shadows(layer, view, pen, middle))
        if layer.plane is not None and abs(layer.plane.normal @ view.out) < EDGE_ON:
            inside.append(_sheet_edge(layer, view, pen, middle))
    return _sheet("".join(inside), corners, longest, view.name)


def stone_svg(plan: Plan, stone: Stone, view: View) -> str:
    """One stone alone, each side of the colour boundary in its colour."""
    corners = view.flat(stone.placement.mesh().vertices)
    longest = float(np.ptp(corners, axis=0).max())
    return _sheet(stone_shapes(plan, stone, view, 0.005 * longest), corners, longest, view.name).svg


def stone_shapes(plan: Plan, stone: Stone, view: View, pen: float) -> str:
    """The facets that face the eye, in the colours of their zones, and their edges."""
    zone = main_zone(plan)
    mesh = stone.placement.mesh()
    coloured = halves(mesh, zone) if zone else [(mesh, STONE)]
    filled = "".join(_facets(half, colour, view, zone, pen) for half, colour in coloured)
    seen = _front_edges(stone, view)
    return filled + _strokes(view.flat(seen), EDGE, pen)


def _numbered(stone: Stone, number: int, view: View, pen: float) -> str:
    x, y = _at(view.flat(stone.placement.pose.translation)).split()
    place = f'x="{x}" y="{y}" dy="0.35em" text-anchor="middle" font-size="{14.0 * pen:.3f}"'
    return f'<text class="ink halo" {place}>{number}</text>'


def _tints(scene: Scene, view: View, pen: float) -> str:
    """The rough's two colours, which overlap where the boundary is not seen on edge."""
    if not scene.sides:
        return ""
    shadows = [(outline(solid, view), colour) for solid, colour in scene.sides]
    drawn = "".join(_closed(loops, colour, "none", pen) for loops, colour in shadows)
    return f'<g opacity="0.25">{drawn}</g>'


def _sheet_edge(layer: Layer, view: View, pen: float, middle: float) -> str:
    """A plane's rim, with its name at its label's place, running towards the middle."""
    rims = [_strokes(view.flat(lines.ends), lines.colour, 1.5 * pen) for lines in layer.lines]
    return "".join(rims) + "".join(_name(label, view, 10.0 * pen, middle) for label in layer.labels)


def _shadows(layer: Layer, view: View, pen: float, middle: float) -> str:
    """The shadows of a layer's solids, each named."""
    loops = [outline(as_solid(part.mesh), view) for part in layer.parts]
    drawn = "".join(_closed(loop, layer.swatch, layer.swatch, pen) for loop in loops)
    names = (_name(label, view, 10.0 * pen, middle) for label in layer.labels)
    return f'<g opacity="0.6">{drawn}</g>{"".join(names)}'


def _name(label: TextLabel, view: View, size: float, middle: float) -> str:
    spot = view.flat(label.point)
    x, y = _at(spot).split()
    anchor = "end" if spot[0] > middle else "start"
    place = f'x="{x}" y="{y}" dy="-0.3em" text-anchor="{anchor}" font-size="{size:.3f}"'
    return f'<text class="ink halo" {place}>{escape(label.text)}</text>'


def _facets(mesh: Mesh, colour: str, view: View, zone: Zone | None, pen: float) -> str:
    normals = unit_normals(mesh.triangles)
    front = normals @ view.out > 1e-6
    if zone is not None:  # the cap that closes a half is inside the stone
        front &= ~on_boundary(mesh, zone.boundary)
    light = 0.78 + 0.22 * normals @ (0.4 * view.up - 0.4 * view.right + 0.82 * view.out)
    shapes = []
    for triangle, shade in zip(mesh.triangles[front], light[front], strict=True):
        fill = "#" + bytes(int(part) for part in np.clip(rgb(colour) * shade, 0, 255)).hex()
        shapes.append(_closed([view.flat(triangle)], fill, fill, pen / 2))
    return "".join(shapes)


def _front_edges(stone: Stone, view: View) -> Floats:
    """The visible facet edges of a convex stone: the edges of facets that face the eye."""
    body, pose = stone.placement.body, stone.placement.pose
    normals = body.normals @ pose.rotation.T
    offsets = body.offsets_at(pose.width) + normals @ pose.translation
    edges = facet_edges(stone)
    middle = edges.mean(axis=1)
    on = np.abs(middle @ normals.T - offsets) < 1e-6 * pose.width
    seen: Floats = edges[(on & (normals @ view.out > 1e-6)).any(axis=1)]
    return seen


def _closed(loops: Sequence[Floats], fill: str, stroke: str, pen: float) -> str:
    path = "".join("M" + "L".join(_at(point) for point in loop) + "Z" for loop in loops)
    style = f"fill:{fill};stroke:{stroke};stroke-width:{pen:.3f};fill-rule:evenodd"
    return f'<path d="{path}" style="{style};stroke-linejoin:round"/>'


def _strokes(ends: Floats, colour: str, pen: float) -> str:
    path = "".join(f"M{_at(start)}L{_at(end)}" for start, end in ends)
    style = f"fill:none;stroke:{colour};stroke-width:{pen:.3f};stroke-linecap:round"
    return f'<path d="{path}" style="{style}"/>'


def _at(point: Floats) -> str:
    return f"{point[0]:.3f} {-point[1]:.3f}"  # SVG's y runs down the page


def _sheet(inside: str, corners: Floats, longest: float, name: str) -> Drawing:
    """The drawing of all within ``corners`` (k, 2), with a rule of round length below."""
    low, high = corners.min(axis=0), corners.max(axis=0)
    wide, tall = high - low
    margin, text = 0.06 * longest, 0.05 * longest
    rule = round_length(0.25 * longest)
    box = [low[0] - margin, -high[1] - margin, wide + 2 * margin, tall + 3 * margin + 2 * text]
    x, y = low[0], -low[1] + margin + text
    bar = (
        f'<path d="M{x:.3f} {y:.3f}h{rule:g}" style="stroke:var(--ink);stroke-width:{text / 8:.3f}"'
        f'/><text class="ink" x="{x + rule + text / 2:.3f}" y="{y + text / 3:.3f}" '
        f'font-size="{text:.3f}">{rule:g} mm</text>'
    )
    shape = " ".join(f"{value:.3f}" for value in box)
    svg = f'<svg viewBox="{shape}" role="img" aria-label="{escape(name)}">{inside}{bar}</svg>'
    return Drawing(svg, float(box[2]))
