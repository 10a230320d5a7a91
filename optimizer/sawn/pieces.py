"""The pieces that a real cut leaves, each as a rough of its own."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from optimizer.errors import InputError
from optimizer.mesh import Plane
from optimizer.offcuts.piece_rough import rough_of_piece, sawn_face_name
from optimizer.rough.model import ReferenceFace, Rough
from optimizer.rough.repair.touching import one_surface
from optimizer.sawing.model import kerf_face
from optimizer.sawing.piece_tree import CRUMB_CT
from optimizer.sawn.new_plane import NewPlane
from optimizer.sawn.plan_folder import PlanFolder, PlannedCut
from optimizer.solid import as_mesh, as_solid, lumps, split_by_kerf, volume_of


@dataclass(frozen=True)
class SawnPiece:
    """A piece that the cut left."""

    number: int  # from 1
    side: str  # "below" | "above" the cut
    planned_piece: int  # the plan's number of the piece on that side
    face: Plane  # the new face, its normal out of the piece
    rough: Rough


@dataclass(frozen=True)
class CutResult:
    """What a cut left of a piece."""

    pieces: tuple[SawnPiece, ...]
    crumbs_ct: float  # of lumps too small to count as pieces
    before_ct: float  # weight of the piece before the cut, by volume
    section_mm2: float  # area of the cut, as the kerf's volume over its width


def cut_piece(plan: PlanFolder, planned: PlannedCut, new: NewPlane) -> CutResult:
    """Cut the plan's piece where the saw went. The heaviest piece of each side comes first.

    Raises InputError where the plane does not go through the piece.
    """
    mesh = plan.piece(planned.cut.piece)
    whole = as_solid(mesh)
    below, above = split_by_kerf(whole, new.plane, new.kerf_mm)
    per_mm3 = plan.rough.material.sg / 200.0
    pieces: list[SawnPiece] = []
    crumbs = 0.0
    for side, solid in (("below", below), ("above", above)):
        found = lumps(solid)
        if not found:
            raise InputError(
                "the cut misses the piece: nothing of the piece lies where piece "
                f"{piece_of(planned, side)} should be; check distances_mm or moved"
            )
        for lump in found:
            carat = volume_of(lump) * per_mm3
            if carat < CRUMB_CT and lump is not found[0]:
                crumbs += carat
                continue
            pieces.append(_sawn_piece(plan, planned, new, side, lump, len(pieces) + 1))
    kerf = volume_of(whole) - volume_of(below) - volume_of(above)
    area = kerf / new.kerf_mm if new.kerf_mm > 0.0 else 0.0
    return CutResult(tuple(pieces), crumbs, volume_of(whole) * per_mm3, area)


def piece_of(planned: PlannedCut, side: str) -> int:
    """The plan's number for the piece on one side of its cut."""
    return (planned.cut.below if side == "below" else planned.cut.above)[0]


def _sawn_piece(
    plan: PlanFolder, planned: PlannedCut, new: NewPlane, side: str, lump: Any, number: int
) -> SawnPiece:
    mesh = one_surface(as_mesh(lump))
    face = kerf_face(new.plane, new.kerf_mm, above=side == "above")
    faces = _faces(plan, planned, face)
    rough = rough_of_piece(plan.rough, mesh, number, faces)
    return SawnPiece(number, side, piece_of(planned, side), face, rough)


def _faces(plan: PlanFolder, planned: PlannedCut, face: Plane) -> Iterator[ReferenceFace]:
    yield ReferenceFace(sawn_face_name(planned.number - 1), face)
    for number, plane in plan.sawn_faces(planned.cut.piece):
        yield ReferenceFace(sawn_face_name(number - 1), plane)
