"""How a piece is set up for each cut: which flat guides it, and whether it can be held."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from scipy.spatial import ConvexHull
from scipy.spatial.distance import pdist

from optimizer.mesh import Mesh, Plane
from optimizer.order import Workshop
from optimizer.rough.model import ReferenceFace
from optimizer.sawing.faces import LEAST_STAND_MM2, area_on, sawn_face
from optimizer.sawing.model import SawCut, SawPlan, SawSetting
from optimizer.wording.plain_number import plain

TRUE_DEG = 0.5  # a cut this near to parallel or square to a flat is set up by it; our own choice
MOST_CORNERS = 2000  # of the hull that are compared in pairs


def with_settings(plan: SawPlan, faces: Sequence[ReferenceFace]) -> SawPlan:
    """The plan with each cut's setting: the flat that guides the piece.

    A flat parallel to the cut comes before one square to it. Sawn faces come before named faces,
    the last cut's first. Only flats large enough that the piece does not wobble on them count.
    """
    cuts = [replace(cut, setting=_setting(plan, cut, faces)) for cut in plan.cuts]
    return replace(plan, cuts=tuple(cuts))


def too_short_warnings(plan: SawPlan, workshop: Workshop) -> Iterator[str]:
    """A warning for each cut through a piece that is too short to be held."""
    meshes = {piece.id: piece.mesh for piece in plan.pieces}
    for number, cut in enumerate(plan.cuts, 1):
        mesh = meshes[cut.piece]
        if np.ptp(mesh.vertices, axis=0).max() >= workshop.hold_mm:
            continue
        long = longest(mesh)
        if long < workshop.hold_mm:
            yield (
                f"Piece {cut.piece} is only {long:.1f} mm long, and hold_mm asks for "
                f"{plain(workshop.hold_mm)} mm: dop or glue it to a block before cut {number}, or "
                "grind."
            )


def longest(mesh: Mesh) -> float:
    """The greatest distance in mm between two points of a piece. Of a hull with very many corners
    only every second, third and so on is compared."""
    corners = mesh.vertices[np.sort(ConvexHull(mesh.vertices).vertices)]
    return float(pdist(corners[:: 1 + len(corners) // MOST_CORNERS]).max())


def _setting(plan: SawPlan, cut: SawCut, faces: Sequence[ReferenceFace]) -> SawSetting:
    mesh = next(piece.mesh for piece in plan.pieces if piece.id == cut.piece)
    sawn = [(sawn_face(index), plane) for index, plane in plan.sawn_faces(cut.piece)]
    last = next(((name, plane) for name, plane in sawn if _large(mesh, plane)), None)
    named = [*sawn, *((f"face {face.name}", face.plane) for face in faces)]
    parallel = [(name, plane) for name, plane in named if angle_deg(cut, plane) <= TRUE_DEG]
    square = [(name, plane) for name, plane in named if angle_deg(cut, plane) >= 90.0 - TRUE_DEG]
    guide = next(((n, p) for n, p in (*parallel, *square) if _large(mesh, p)), None)
    is_square = guide is not None and angle_deg(cut, guide[1]) > 45.0
    away = None
    if guide is not None and not is_square:
        away = float(guide[1].offset - guide[1].normal @ cut.centre - cut.kerf_mm / 2.0)
    return SawSetting(
        face=None if guide is None else guide[0],
        square=is_square,
        face_mm=away,
        last=None if last is None else last[0],
        last_deg=None if last is None else angle_deg(cut, last[1]),
    )


def angle_deg(cut: SawCut, plane: Plane) -> float:
    """The angle between a cut and a flat: 0 where parallel, 90 where square."""
    across = float(np.linalg.norm(np.cross(cut.plane.normal, plane.normal)))
    return float(np.degrees(np.arctan2(across, abs(cut.plane.normal @ plane.normal))))


def _large(mesh: Mesh, plane: Plane) -> bool:
    return area_on(mesh, plane) >= LEAST_STAND_MM2
