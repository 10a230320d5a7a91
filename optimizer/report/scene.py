"""The one list of named layers that the page's 3D view and scene.glb are both made from."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Floats, Mesh, Plane
from optimizer.plan_model import Plan, Stone
from optimizer.report.plane_patch import section_patch
from optimizer.rough.model import Zone
from optimizer.solid import beyond

Colours = NDArray[np.uint8]

NEUTRAL = "#c9bfae"
STONE = "#e8dcc4"
EDGE = "#3a2f24"
SAW = "#c2552d"
FLAT = "#4f7a6b"
MARK = "#7a3b69"
BOUNDARY = "#b08a2e"


@dataclass(frozen=True)
class Part:
    """A triangle mesh with one sRGB colour a corner, ``colours`` (n, 3)."""

    mesh: Mesh
    colours: Colours
    closed: bool = True  # a solid, not a sheet: when it is translucent it shows like glass


@dataclass(frozen=True)
class Lines:
    """Straight pieces from ``ends[:, 0]`` to ``ends[:, 1]``, (k, 2, 3) in mm."""

    ends: Floats
    colour: str


@dataclass(frozen=True)
class Label:
    """A named point, drawn as a dot with its text."""

    point: Floats  # (3,)
    text: str
    colour: str


@dataclass(frozen=True)
class Layer:
    """Something that can be shown or hidden as a whole. Scan frame, mm."""

    key: str  # unique, lower case letters, digits and hyphens
    name: str
    parts: tuple[Part, ...] = ()
    lines: tuple[Lines, ...] = ()
    labels: tuple[Label, ...] = ()
    opacity: float = 1.0
    visible: bool = True

    @property
    def swatch(self) -> str:
        """A colour that stands for the layer."""
        if self.lines and self.lines[0].colour != EDGE:
            return self.lines[0].colour
        return "#" + bytes(self.parts[0].colours[0]).hex() if self.parts else MARK


def layers(plan: Plan) -> tuple[Layer, ...]:
    """Everything there is to see, inner things first."""
    found = [_stone_layer(plan, i) for i in range(len(plan.stones))]
    found += [_zone_layer(plan, zone) for zone in plan.rough.zones]
    found += [_cut_layer(plan, i) for i in range(len(plan.sawing.cuts))]
    if plan.guidance:
        found += [_flat_layer(plan), _marks_layer(plan)]
    if plan.sawing.offcuts:
        found.append(_offcuts_layer(plan))
    return (*found, _rough_layer(plan))


def main_zone(plan: Plan) -> Zone | None:
    """The colour boundary that the order speaks of, else the first one marked on the rough."""
    wanted = plan.order.zone.name if plan.order.zone else None
    named = [zone for zone in plan.rough.zones if wanted in (None, zone.name)]
    return named[0] if named else None


def rgb(colour: str) -> Colours:
    """``#rrggbb`` as three bytes."""
    return np.frombuffer(bytes.fromhex(colour.removeprefix("#")), np.uint8)


def plain(mesh: Mesh, colour: str, *, closed: bool = True) -> Part:
    """A part of one colour."""
    return Part(mesh, np.tile(rgb(colour), (len(mesh.vertices), 1)), closed)


def halves(mesh: Mesh, zone: Zone) -> list[tuple[Mesh, str]]:
    """A closed mesh parted at the colour boundary, each half with its colour; no empty one."""
    both = [
        (beyond(mesh, zone.plane), zone.towards.srgb),
        (beyond(mesh, zone.plane.flipped()), zone.away.srgb),
    ]
    return [(half, colour) for half, colour in both if len(half.faces)]


def facet_edges(stone: Stone) -> Floats:
    """The edges between different facets, (k, 2, 3), scan frame."""
    body, mesh = stone.placement.body, stone.placement.mesh()
    corners = np.stack([mesh.faces, np.roll(mesh.faces, -1, axis=1)], axis=2).reshape(-1, 2)
    facet = np.repeat(body.facet_of_face, 3)
    order = np.lexsort((*np.sort(corners, axis=1).T,))
    pairs, owners = np.sort(corners, axis=1)[order], facet[order]
    shared = owners[0::2] != owners[1::2]  # a closed mesh: each edge comes exactly twice
    edges: Floats = mesh.vertices[pairs[0::2][shared]]
    return edges


def _stone_layer(plan: Plan, index: int) -> Layer:
    stone = plan.stones[index]
    mesh = stone.placement.mesh()
    zone = main_zone(plan)
    coloured = halves(mesh, zone) if zone else [(mesh, STONE)]
    parts = tuple(plain(half, colour) for half, colour in coloured)
    edges = (Lines(facet_edges(stone), EDGE),)
    return Layer(f"stone-{index + 1}", f"Stone {index + 1}", parts, edges)


def _zone_layer(plan: Plan, zone: Zone) -> Layer:
    key = f"zone-{plan.rough.zones.index(zone) + 1}"
    parts, lines, labels = _patch_drawing(plan.rough.mesh, zone.plane, BOUNDARY, zone.name)
    return Layer(key, f"Colour boundary: {zone.name}", parts, lines, labels, 0.35)


def _cut_layer(plan: Plan, index: int) -> Layer:
    cut = plan.sawing.cuts[index]
    piece = next(p for p in plan.sawing.pieces if p.id == cut.piece)
    parts, lines, labels = _patch_drawing(piece.mesh, cut.plane, SAW, f"cut {index + 1}")
    return Layer(f"cut-{index + 1}", f"Saw cut {index + 1}", parts, lines, labels, 0.4)


def _flat_layer(plan: Plan) -> Layer:
    assert plan.guidance
    held = plan.sawing.pieces[0].mesh
    parts, lines, labels = _patch_drawing(held, plan.guidance.flat.plane, FLAT, "dopping flat")
    return Layer("flat", "Dopping flat", parts, lines, labels, 0.4, visible=False)


def _patch_drawing(
    solid: Mesh, plane: Plane, colour: str, text: str
) -> tuple[tuple[Part, ...], tuple[Lines, ...], tuple[Label, ...]]:
    patch = section_patch(solid, plane)
    if patch is None:
        return (), (), ()
    rim = patch.vertices[_rim(patch)]
    label = Label(rim[np.argmax(rim[:, 0].sum(axis=1)), 0], text, colour)
    return (plain(patch, colour, closed=False),), (Lines(rim, colour),), (label,)


def _rim(patch: Mesh) -> NDArray[np.int64]:
    """Corner pairs of the edges that bound an open mesh, (k, 2)."""
    edges = np.stack([patch.faces, np.roll(patch.faces, -1, axis=1)], axis=2).reshape(-1, 2)
    _, first, count = np.unique(
        np.sort(edges, axis=1), axis=0, return_index=True, return_counts=True
    )
    rim: NDArray[np.int64] = edges[first[count == 1]]
    return rim


def _marks_layer(plan: Plan) -> Layer:
    assert plan.guidance
    marks = plan.guidance.marks
    lines = tuple(Lines(_loop(mark.line), MARK) for mark in marks if mark.line is not None)
    labels = tuple(Label(mark.point, mark.name, MARK) for mark in marks)
    return Layer("marks", "Marks", (), lines, labels)


def _loop(points: Floats) -> Floats:
    """A closed polyline (k, 3) as its straight pieces, (k, 2, 3)."""
    return np.stack([points, np.roll(points, -1, axis=0)], axis=1)


def _offcuts_layer(plan: Plan) -> Layer:
    parts = tuple(plain(o.mesh, NEUTRAL) for o in plan.sawing.offcuts)
    labels = tuple(
        Label(o.mesh.vertices.mean(axis=0), f"piece {o.piece}", EDGE) for o in plan.sawing.offcuts
    )
    return Layer("offcuts", "Offcuts", parts, (), labels, 0.55, visible=False)


def _rough_layer(plan: Plan) -> Layer:
    mesh = plan.rough.mesh
    part = Part(mesh, _rough_colours(plan))
    return Layer("rough", "Rough", (part,), opacity=0.3)


def _rough_colours(plan: Plan) -> Colours:
    """The zone's colours on the rough's corners, the plain one where there is no zone."""
    corners = plan.rough.mesh.vertices
    zone = main_zone(plan)
    if zone is None:
        return np.tile(rgb(NEUTRAL), (len(corners), 1))
    towards = corners @ zone.plane.normal >= zone.plane.offset
    return np.where(towards[:, None], rgb(zone.towards.srgb), rgb(zone.away.srgb))
