"""Flats of a piece, natural or sawn: to measure from, to stand the piece on, to guide it along."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull

from optimizer.mesh import Floats, Mesh, Plane, centroid, lengths, vector_areas
from optimizer.rough.model import ReferenceFace
from optimizer.sawing.model import SawPlan
from optimizer.solid import plane_frame

FLAT_WITHIN_MM = 0.3  # the surface of a natural flat stays this close to its plane
FLAT_WITHIN_DEG = 15.0
LEAST_FLAT_MM2 = 4.0  # a caliper's jaw needs about 2 mm by 2 mm
LEAST_STAND_MM2 = 15.0  # a piece wobbles on less; common practice, no source
STAND_MARGIN_MM = 0.5


@dataclass(frozen=True)
class MeasuringFlat:
    """A flat of the piece to measure from; ``plane.normal`` points out of the piece."""

    name: str
    plane: Plane
    stands: bool = False  # whether the piece stands on it safely


def flats_of(plan: SawPlan, piece: int, faces: Sequence[ReferenceFace]) -> list[MeasuringFlat]:
    """The flats still on a piece: the rough's named faces, then the sawn faces in the order of the
    cuts."""
    named = [(f"face {face.name}", face.plane) for face in faces]
    for cut, plane in sorted(plan.sawn_faces(piece), key=lambda face: face[0]):
        named.append((sawn_face(cut), plane))
    mesh = next(one.mesh for one in plan.pieces if one.id == piece)
    return [
        MeasuringFlat(name, plane, stands_on(mesh, plane))
        for name, plane in named
        if area_on(mesh, plane) >= LEAST_FLAT_MM2
    ]


def sawn_face(cut: int) -> str:
    """The name of the face that the cut with this index leaves."""
    return f"the sawn face of cut {cut + 1}"


def area_on(piece: Mesh, plane: Plane) -> float:
    """Area in mm² of the piece's triangles that lie in the plane and face along its normal."""
    return _lying_on(piece, plane)[1]


def stands_on(piece: Mesh, plane: Plane) -> bool:
    """Whether the piece stands safely on its flat in this plane.

    The flat is large enough, nothing juts out beyond it, and the centre of mass lies above the
    flat's hull, at least ``STAND_MARGIN_MM`` inside. Common practice, no source.
    """
    triangles, area = _lying_on(piece, plane)
    jut = float((piece.vertices @ plane.normal).max()) - plane.offset
    if area < LEAST_STAND_MM2 or jut > FLAT_WITHIN_MM:
        return False
    across = plane_frame(plane.normal, np.array([1.0, 0.0, 0.0]))[:2]
    sides = ConvexHull(triangles.reshape(-1, 3) @ across.T).equations
    outside = sides[:, :2] @ (across @ centroid(piece)) + sides[:, 2]
    return bool(outside.max() <= -STAND_MARGIN_MM)


def _lying_on(piece: Mesh, plane: Plane) -> tuple[Floats, float]:
    """The piece's triangles (k, 3, 3) that lie in the plane and face along its normal, and their
    area in mm²."""
    triangles = piece.triangles
    along = vector_areas(triangles)
    areas = lengths(along)
    facing = along @ plane.normal >= np.cos(np.radians(FLAT_WITHIN_DEG)) * areas
    near = (np.abs(triangles @ plane.normal - plane.offset) <= FLAT_WITHIN_MM).all(axis=1)
    return triangles[facing & near], float(areas[facing & near].sum())
