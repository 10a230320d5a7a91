"""Pieces, cuts and offcuts in plan.json."""

from typing import Any

from optimizer.documents.names import offcut_file, offcut_label, offcut_mesh, piece_mesh
from optimizer.documents.quantities import rows, vector
from optimizer.documents.sawing import (
    CutRecord,
    DistanceRecord,
    FenceRecord,
    FittingRecord,
    OffcutRecord,
    PieceRecord,
)
from optimizer.guidance.model import Distance
from optimizer.mesh import volume
from optimizer.plan_model import Plan
from optimizer.report.document.numbers import by_name, rounded_down
from optimizer.rough.model import Rough
from optimizer.sawing.model import Fitting, Offcut, Piece, SawSetting


def piece_record(piece: Piece, rough: Rough, home: str) -> PieceRecord:
    """A piece; ``home`` is the folder of its file, except for the rough itself."""
    return PieceRecord(
        id=piece.id,
        from_cut=piece.from_cut,
        side=piece.side,
        mesh=(home if piece.id else "") + piece_mesh(piece.id),
        carat=volume(piece.mesh) * rough.material.sg / 200.0,
    )


def cut_record(plan: Plan, number: int) -> CutRecord:
    """Cut ``number``, from 0, with the distances to mark and to check it."""
    cut = plan.sawing.cuts[number]
    distances = plan.saw_guide.distances[number] if plan.saw_guide else ()
    return CutRecord(
        piece=cut.piece,
        below=cut.below,
        above=cut.above,
        point_mm=vector(cut.centre),
        normal=vector(cut.plane.normal),
        kerf_mm=float(cut.kerf_mm),
        depth_mm=float(cut.depth_mm),
        sides=cut.sides,
        **_setting(cut.setting),
        reason=cut.reason,
        distances=tuple(map(_distance, distances)),
    )


def _setting(setting: SawSetting | None) -> dict[str, Any]:
    if setting is None:
        return {"fence": None, "last_face": None, "angle_to_last_deg": None}
    fence = None
    if setting.face is not None:
        fence = FenceRecord(face=setting.face, square=setting.square, mm=setting.face_mm)
    return {"fence": fence, "last_face": setting.last, "angle_to_last_deg": setting.last_deg}


def _distance(distance: Distance) -> DistanceRecord:
    return DistanceRecord(
        start=distance.start,
        end=distance.end,
        start_mm=vector(distance.start_point),
        end_mm=vector(distance.end_point),
        mm=float(distance.mm),
        how=distance.how,
    )


def offcut_record(offcut: Offcut, home: str) -> OffcutRecord:
    """An offcut that is kept; ``home`` is the folder of its files."""
    fittings = offcut.fittings
    return OffcutRecord(
        piece=offcut.piece,
        mesh=home + offcut_mesh(offcut.piece),
        rough_file=home + offcut_file(offcut.piece),
        label=home + offcut_label(offcut.piece),
        volume_mm3=float(offcut.volume_mm3),
        carat=float(offcut.carat),
        could_give=None if fittings is None else tuple(map(_fitting, fittings)),
    )


def _fitting(fitting: Fitting) -> FittingRecord:
    body, pose = fitting.placement.body, fitting.placement.pose
    return FittingRecord(
        outline=fitting.outline,
        design=fitting.design,
        parameters=by_name(fitting.parameters),
        rotation=rows(pose.rotation),
        translation_mm=vector(pose.translation),
        length_mm=float(body.length_at(pose.width)),
        width_mm=float(pose.width),
        depth_mm=float(body.depth_at(pose.width)),
        clearance_mm=rounded_down(fitting.placement.clearance_mm),
        carat=float(fitting.carat),
    )
