"""The files that follow a real cut."""

from pathlib import Path

from optimizer.documents.quantities import vector
from optimizer.documents.record import well_formed
from optimizer.documents.sawn import (
    SAWN_FORMAT,
    FateRecord,
    KerfRecord,
    SawnFile,
    SawnPieceRecord,
)
from optimizer.mesh import Plane
from optimizer.report import write_plan
from optimizer.rough.rough_file.save import save_rough
from optimizer.sawn.fate import Fate
from optimizer.sawn.pieces import SawnPiece
from optimizer.sawn.replan import SawnReport, stray_mm, tilt_deg


def write_sawn(sawn: SawnReport, text: bytes, folder: Path) -> None:
    """Write into ``folder``, which is made where it is missing: each piece with its rough file, a
    plan's folder for each piece that stones were planned in, the sawn file's ``text`` unchanged,
    and sawn.json."""
    (folder / "pieces").mkdir(parents=True)
    (folder / "sawn.toml").write_bytes(text)
    (folder / "sawn.json").write_text(sawn_file(sawn).text(), encoding="utf-8")
    for piece in sawn.result.pieces:
        save_rough(piece.rough, folder / rough_file(piece))
    for piece, plan in sawn.plans:
        write_plan(plan, folder / plan_folder(piece))


def rough_file(piece: SawnPiece) -> str:
    """The path of a piece's rough file in the folder; the mesh has the same stem."""
    return f"pieces/{piece.number:02d}.toml"


def plan_folder(piece: SawnPiece) -> str:
    """The path of a piece's new plan in the folder."""
    return f"plans/{piece.number:02d}"


def sawn_file(sawn: SawnReport) -> SawnFile:
    """sawn.json: millimetres, degrees, carats, scan frame. Raises AuditError where a figure is
    outside its published bounds."""
    with well_formed("sawn.json"):
        return _sawn_file(sawn)


def _sawn_file(sawn: SawnReport) -> SawnFile:
    planned, new = sawn.planned, sawn.new
    return SawnFile(
        format=SAWN_FORMAT,
        cut=planned.number,
        planned=_kerf(planned.cut.plane, planned.cut.kerf_mm),
        sawn=_kerf(new.plane, new.kerf_mm),
        strayed_mm=stray_mm(planned, new),
        turned_deg=tilt_deg(planned, new),
        pieces=tuple(_piece(sawn, piece) for piece in sawn.result.pieces),
        stones=tuple(map(_fate, sawn.fates)),
        notes=sawn.notes,
        warnings=sawn.warnings,
    )


def _kerf(plane: Plane, kerf_mm: float) -> KerfRecord:
    return KerfRecord(
        point_mm=vector(plane.normal * plane.offset), normal=vector(plane.normal), kerf_mm=kerf_mm
    )


def _piece(sawn: SawnReport, piece: SawnPiece) -> SawnPieceRecord:
    planned = any(one is piece for one, _ in sawn.plans)
    return SawnPieceRecord(
        number=piece.number,
        planned_piece=piece.planned_piece,
        side=piece.side,
        mesh=f"pieces/{piece.rough.scan}",
        rough_file=rough_file(piece),
        volume_mm3=float(piece.rough.volume_mm3),
        carat=float(piece.rough.carat),
        weighed_carat=piece.rough.weighed_ct,
        plan=plan_folder(piece) if planned else None,
    )


def _fate(fate: Fate) -> FateRecord:
    return FateRecord(
        stone=fate.stone.number,
        design=fate.stone.design,
        carat=fate.stone.carat,
        piece=fate.piece.number,
        below_new_face_mm=fate.gap_mm,
        fits_as_planned=fate.kept,
        outcome=fate.outcome,
        successor_carat=None if fate.successor is None else fate.successor.carat,
        text=fate.sentence,
    )
