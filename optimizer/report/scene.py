"""The one list of named layers that the page's 3D view and scene.glb are both made from."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from optimizer.guidance.model import Mark, SawGuide
from optimizer.mesh import Mesh, Plane
from optimizer.optics.picture import Picture
from optimizer.plan_model import Plan, Stone
from optimizer.planning.looks import pictures
from optimizer.report.constraint_words import contact_labels
from optimizer.report.edges import facet_edges, loop_edges, rim_edges
from optimizer.report.label import DrawnLabel, drawn_labels
from optimizer.report.plane_patch import section_patch
from optimizer.rough.flaws.shape import flaw_within
from optimizer.rough.model import Rough, Zone
from optimizer.rough.zones.boundary import heights
from optimizer.rough.zones.solid import boundary_mesh, parted
from optimizer.sawing.model import Offcut
from optimizer.solid import as_mesh, as_solid
from optimizer.view.layer import (
    BOUNDARY,
    CONTACT,
    EDGE,
    FLAT,
    FLAW,
    MARK,
    NEUTRAL,
    SAW,
    STONE,
    ColouredMesh,
    Colours,
    Layer,
    Lines,
    TextLabel,
    plain,
    rgb,
)

SHEET_OPACITY = 0.22  # so faint since six cuts may lie over each other


@dataclass(frozen=True)
class Scene:
    """A plan and what its pictures are drawn from, computed once for all of them."""

    plan: Plan
    rough: Any  # the rough as a robust solid
    layers: tuple[Layer, ...]

    @cached_property
    def sides(self) -> tuple[tuple[Any, str], ...]:
        """The rough's parts on both sides of its main boundary, as robust solids with their
        colours; empty where the rough has no boundary."""
        zone = main_zone(self.plan)
        if zone is None:
            return ()
        towards, away = parted(self.rough, zone.boundary)
        return ((towards, zone.towards.srgb), (away, zone.away.srgb))

    @cached_property
    def faces(self) -> tuple[tuple[Picture, Picture], ...]:
        """(face up, strip of rocked views) of each stone whose look is known."""
        return tuple(pictures(self.plan, stone) for stone in self.plan.stones if stone.look)

    @cached_property
    def labels(self) -> tuple[DrawnLabel, ...]:
        """The labels of the kept offcuts."""
        return drawn_labels(self.plan)

    @cached_property
    def other_faces(self) -> tuple[tuple[Picture, ...], ...]:
        """The stones of each alternative face up, where their look is known."""
        return tuple(
            tuple(pictures(other.plan, stone)[0] for stone in other.plan.stones if stone.look)
            for other in self.plan.alternatives
        )


def scene_of(plan: Plan) -> Scene:
    """Everything there is to see, inner layers first."""
    rough = as_solid(plan.rough.mesh)
    layers = [_stone_layer(plan, index) for index in range(len(plan.stones))]
    for index, zone in enumerate(plan.rough.zones):
        name = f"Colour boundary: {zone.name}"
        layers.append(_boundary_layer(f"zone-{index + 1}", name, rough, zone))
    if plan.rough.flaws:
        layers.append(_flaws_layer(plan.rough, rough))
    layers += _cut_layers(plan, rough)
    layers += _guidance_layers(plan, rough)
    layers += _contacts_layer(plan.stones)
    if plan.sawing.offcuts:
        layers.append(_offcuts_layer(plan.sawing.offcuts))
    return Scene(plan, rough, (*layers, _rough_layer(plan)))


def main_zone(plan: Plan) -> Zone | None:
    """The colour boundary that the order names, else the first of the rough."""
    wanted = plan.order.zone.name if plan.order.zone else None
    named = [zone for zone in plan.rough.zones if wanted in (None, zone.name)]
    return named[0] if named else None


def halves(mesh: Mesh, zone: Zone) -> list[tuple[Mesh, str]]:
    """A closed mesh cut at the colour boundary: each half that is not empty, with its colour."""
    towards, away = (as_mesh(part) for part in parted(as_solid(mesh), zone.boundary))
    both = [(towards, zone.towards.srgb), (away, zone.away.srgb)]
    return [(half, colour) for half, colour in both if len(half.faces)]


def _stone_layer(plan: Plan, index: int) -> Layer:
    stone = plan.stones[index]
    mesh = stone.placement.mesh()
    zone = main_zone(plan)
    coloured = halves(mesh, zone) if zone else [(mesh, STONE)]
    parts = tuple(plain(half, colour) for half, colour in coloured)
    edges = (Lines(facet_edges(stone), EDGE),)
    name = f"Stone {index + 1}"
    middle = TextLabel(mesh.vertices.mean(axis=0), name.lower(), EDGE)
    labels = (middle,) if len(plan.stones) > 1 else ()
    return Layer(f"stone-{index + 1}", name, parts, edges, labels)


def _boundary_layer(key: str, name: str, rough: Any, zone: Zone) -> Layer:
    if isinstance(zone.boundary, Plane):
        return _sheet(key, name, rough, zone.boundary, BOUNDARY, zone.name)
    surface = boundary_mesh(rough, zone.boundary)
    if not len(surface.faces):
        return Layer(key, name)
    rim = surface.vertices[rim_edges(surface.faces)]
    spots = rim.reshape(-1, 3) if len(rim) else surface.triangles.reshape(-1, 3)
    label = TextLabel(spots[np.argmax(spots.sum(axis=1))], zone.name, BOUNDARY)
    part = plain(surface, BOUNDARY, closed=False)
    return Layer(key, name, (part,), (Lines(rim, BOUNDARY),), (label,), SHEET_OPACITY)


def _flaws_layer(rough: Rough, solid: Any) -> Layer:
    """The flaws as far as they lie in the rough, without their clearance."""
    meshes = [flaw_within(flaw, solid, rough.mesh.vertices) for flaw in rough.flaws]
    parts = tuple(plain(mesh, FLAW) for mesh in meshes)
    labels = tuple(
        TextLabel(mesh.vertices.mean(axis=0), flaw.name, FLAW)
        for flaw, mesh in zip(rough.flaws, meshes, strict=True)
    )
    return Layer("flaws", "Flaws", parts, (), labels, 0.6)


def _cut_layers(plan: Plan, rough: Any) -> Iterator[Layer]:
    """Each cut, as wide as the piece that it divides. With several stones, only the cuts between
    stones are visible at first."""
    for index, cut in enumerate(plan.sawing.cuts):
        piece = next(piece for piece in plan.sawing.pieces if piece.id == cut.piece)
        solid = as_solid(piece.mesh) if piece.id else rough
        text = f"cut {index + 1}"
        sheet = _sheet(f"cut-{index + 1}", f"Saw {text}", solid, cut.plane, SAW, text)
        shown = len(plan.stones) == 1 or plan.sawing.between_stones(cut)
        yield replace(sheet, visible=shown)


def _guidance_layers(plan: Plan, rough: Any) -> Iterator[Layer]:
    guided = [stone.guidance for stone in plan.stones if stone.guidance]
    for number, guidance in enumerate(guided, 1):
        key, of = (f"-{number}", f" of stone {number}") if len(guided) > 1 else ("", "")
        plane, text = guidance.flat.plane, f"dopping flat{of}"
        flat = _sheet(f"flat{key}", text.capitalize(), rough, plane, FLAT, text, end=-1)
        yield replace(flat, visible=False)
        yield _marks_layer(f"marks{key}", f"Marks{of}", guidance.marks, visible=not key)
    if plan.saw_guide is None:
        return
    if plan.saw_guide.marks:
        yield _marks_layer("landmarks", "Marks on the rough", plan.saw_guide.marks)
    labels = tuple(_measured_points(plan.saw_guide))
    if labels:
        yield Layer("points", "Points to measure", labels=labels, visible=False)


def _sheet(
    key: str,
    name: str,
    solid: Any,
    plane: Plane,
    colour: str,
    text: str,
    end: int = 1,
) -> Layer:
    """A plane within a solid, with its rim, labelled at the rim's far (1) or near (−1) ``end``."""
    patch = section_patch(solid, plane)
    if patch is None:
        return Layer(key, name, plane=plane)
    rim = patch.vertices[rim_edges(patch.faces)]
    far = rim[np.argmax(end * rim[:, 0].sum(axis=1)), 0]
    return Layer(
        key,
        name,
        (plain(patch, colour, closed=False),),
        (Lines(rim, colour),),
        (TextLabel(far, text, colour),),
        SHEET_OPACITY,
        plane=plane,
    )


def _marks_layer(key: str, name: str, marks: Sequence[Mark], *, visible: bool = True) -> Layer:
    lines = tuple(Lines(loop_edges(mark.line), MARK) for mark in marks if mark.line is not None)
    labels = tuple(TextLabel(mark.point, mark.name, MARK) for mark in marks)
    return Layer(key, name, (), lines, labels, visible=visible)


def _contacts_layer(stones: tuple[Stone, ...]) -> Iterator[Layer]:
    """The places that hold the stones, each with its number and the gain if it gives way."""
    contacts = [label for stone in stones for label in contact_labels(stone)]
    if contacts:
        labels = tuple(TextLabel(place, text, CONTACT) for place, text in contacts)
        yield Layer("contacts", "Contacts", labels=labels, visible=False)


def _measured_points(guide: SawGuide) -> Iterator[TextLabel]:
    """The points that the distances of the cuts lead to, each once."""
    for index, distances in enumerate(guide.distances):
        ends = {d.end: d.end_point for d in distances if d.end.startswith("point ")}
        for name, place in ends.items():
            letter = name.removeprefix("point ").partition(" ")[0]
            yield TextLabel(place, f"{letter} of cut {index + 1}", SAW)


def _offcuts_layer(offcuts: tuple[Offcut, ...]) -> Layer:
    parts = tuple(plain(offcut.mesh, NEUTRAL) for offcut in offcuts)
    labels = tuple(
        TextLabel(offcut.mesh.vertices.mean(axis=0), f"piece {offcut.piece}", EDGE)
        for offcut in offcuts
    )
    return Layer("offcuts", "Offcuts", parts, (), labels, 0.55, visible=False)


def _rough_layer(plan: Plan) -> Layer:
    part = ColouredMesh(plan.rough.mesh, _rough_colours(plan))
    return Layer("rough", "Rough", (part,), opacity=0.3)


def _rough_colours(plan: Plan) -> Colours:
    """The colours of the main zone at the rough's corners; one neutral colour without a zone."""
    corners = plan.rough.mesh.vertices
    zone = main_zone(plan)
    if zone is None:
        return np.tile(rgb(NEUTRAL), (len(corners), 1))
    towards = heights(zone.boundary, corners) >= 0.0
    return np.where(towards[:, None], rgb(zone.towards.srgb), rgb(zone.away.srgb))
