"""What the check's picture shows besides the piece's surface: shapes and the words for them."""

from dataclasses import dataclass, field

import numpy as np

from optimizer.mesh import Floats, Mesh, vector_areas
from optimizer.rough.flaws.shape import flaw_text, flaw_within
from optimizer.rough.model import Repair, Rough
from optimizer.rough.shape import principal_axes
from optimizer.rough.zones.boundary import heights
from optimizer.rough.zones.text import zone_text
from optimizer.solid import as_solid
from optimizer.view.layer import BOUNDARY, FLAT, FLAW, MARK, MENDED
from optimizer.view.skin import skin_line

MOST_SPOTS = 2_000  # dots for each repair: more would cover the piece
_LEAST_FACING = 0.5  # cosine: noise tilts small triangles far
_FACE_GAP_MM = 0.1


def _no_lines() -> Floats:
    return np.empty((0, 2, 3))


def _no_points() -> Floats:
    return np.empty((0, 3))


@dataclass(frozen=True)
class Annotation:
    """One numbered entry of the picture: its words, and what is drawn for it, in the scan frame."""

    words: str
    colour: str
    lines: Floats = field(default_factory=_no_lines)  # (k, 2, 3) on the skin
    spots: Floats = field(default_factory=_no_points)  # (k, 3)
    solid: Mesh | None = None  # a shape within the piece, drawn as if seen through it
    faces: np.ndarray | None = None  # (m,) which triangles of the piece belong to it
    axis: Floats | None = None  # (2, 3) the ends of a line within the piece


def annotations_of(rough: Rough) -> tuple[Annotation, ...]:
    """Boundaries, flaws, reference faces, axes and repairs, in the order of the check's lines."""
    return (
        *_zones(rough),
        *_flaws(rough),
        *(
            Annotation(f"reference face {face.name}", FLAT, faces=on_plane(rough, number))
            for number, face in enumerate(rough.reference_faces)
        ),
        *_axes(rough),
        *(_mended(repair) for repair in rough.repairs),
    )


def on_plane(rough: Rough, number: int) -> np.ndarray:
    """Which triangles (m,) of the piece lie on a reference face, give or take the scan error."""
    plane = rough.reference_faces[number].plane
    corners = rough.mesh.triangles
    across = vector_areas(corners)
    gap = np.abs(corners.mean(axis=1) @ plane.normal - plane.offset)
    facing = across @ plane.normal >= _LEAST_FACING * np.linalg.norm(across, axis=1)
    return np.asarray(facing & (gap <= max(_FACE_GAP_MM, 3.0 * rough.scan_error_mm)))


def _zones(rough: Rough) -> list[Annotation]:
    return [
        Annotation(
            f"colour boundary {zone.name}, {zone.towards.name} against {zone.away.name}: "
            f"{zone_text(zone)}",
            BOUNDARY,
            lines=skin_line(rough.mesh, heights(zone.boundary, rough.mesh.vertices)),
        )
        for zone in rough.zones
    ]


def _flaws(rough: Rough) -> list[Annotation]:
    if not rough.flaws:
        return []
    solid, points = as_solid(rough.mesh), rough.mesh.vertices
    return [
        Annotation(
            f"flaw {flaw.name}: {flaw_text(flaw)}",
            FLAW,
            solid=flaw_within(flaw, solid, points),
            axis=flaw.ends if len(flaw.ends) > 1 else None,  # too thin to be seen as a shape
            spots=_no_points() if flaw.may_split or len(flaw.ends) > 1 else flaw.ends,
        )
        for flaw in rough.flaws
    ]


def _axes(rough: Rough) -> list[Annotation]:
    middle = principal_axes(rough.mesh)[0]
    known = (("optic axis", rough.optic_axis), ("growth axis", rough.growth_axis))
    found = []
    for name, way in known:
        if way is not None:
            along = rough.mesh.vertices @ way
            ends = np.array([along.min(), along.max()]) - middle @ way
            reach = 1.08 * ends[:, None] * way
            found.append(
                Annotation(f"{name}, through the middle of the piece", MARK, axis=middle + reach)
            )
    return found


def _mended(repair: Repair) -> Annotation:
    every = max(1, -(-len(repair.points_mm) // MOST_SPOTS))
    return Annotation(f"mended: {repair.sentence}", MENDED, spots=repair.points_mm[::every])
