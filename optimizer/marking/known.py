"""Layers for the marking page that show what the rough file already says about the piece."""

import numpy as np

from optimizer.mesh import Floats
from optimizer.rough.flaws.shape import flaw_within
from optimizer.rough.model import Rough, Zone
from optimizer.rough.zones.boundary import heights
from optimizer.solid import as_solid
from optimizer.view.layer import BOUNDARY, FLAT, FLAW, Colours, Layer, Lines, TextLabel, plain
from optimizer.view.skin import skin_line


def known_layers(rough: Rough) -> tuple[Layer, ...]:
    """Colour boundaries as lines on the skin, flaws as shapes, reference faces by name."""
    zones = [_zone_layer(rough, zone, f"known-zone-{k}") for k, zone in enumerate(rough.zones)]
    return (*zones, *_flaws_layer(rough), *_faces_layer(rough))


def scan_colours(rough: Rough) -> Colours | None:
    """The scan's own colours at the solid's corner points, (n, 3); None where the scan has none."""
    if rough.paint is None:
        return None
    from scipy.spatial import cKDTree

    nearest = cKDTree(rough.paint.points_mm).query(rough.mesh.vertices)[1]
    return np.asarray(np.rint(255.0 * rough.paint.srgb[nearest]), np.uint8)


def on_face(rough: Rough, number: int) -> Floats:
    """The middle (3,) of the surface on a reference face, moved on to the face's plane."""
    plane = rough.reference_faces[number].plane
    gap = rough.mesh.vertices @ plane.normal - plane.offset
    near = np.abs(gap) <= max(3.0 * rough.scan_error_mm, float(np.abs(gap).min()) + 0.05)
    middle: Floats = rough.mesh.vertices[near].mean(axis=0)
    return middle


def _zone_layer(rough: Rough, zone: Zone, key: str) -> Layer:
    ends = skin_line(rough.mesh, heights(zone.boundary, rough.mesh.vertices))
    if not len(ends):
        return Layer(key, zone.name)
    return Layer(
        key,
        zone.name,
        lines=(Lines(ends, BOUNDARY),),
        labels=(TextLabel(ends[np.argmax(ends[:, 0, 2]), 0], zone.name, BOUNDARY),),
    )


def _flaws_layer(rough: Rough) -> tuple[Layer, ...]:
    if not rough.flaws:
        return ()
    solid, points = as_solid(rough.mesh), rough.mesh.vertices
    meshes = [flaw_within(flaw, solid, points) for flaw in rough.flaws]
    labels = tuple(
        TextLabel(mesh.vertices.mean(axis=0), flaw.name, FLAW)
        for flaw, mesh in zip(rough.flaws, meshes, strict=True)
    )
    parts = tuple(plain(mesh, FLAW) for mesh in meshes)
    return (Layer("known-flaws", "Flaws", parts, labels=labels),)


def _faces_layer(rough: Rough) -> tuple[Layer, ...]:
    labels = tuple(
        TextLabel(on_face(rough, number), face.name, FLAT)
        for number, face in enumerate(rough.reference_faces)
    )
    return (Layer("known-faces", "Reference faces", labels=labels),) if labels else ()
