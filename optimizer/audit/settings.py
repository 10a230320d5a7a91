"""Whether each cut's setting is true: the flats named are on its piece, at the stated angles."""

from collections.abc import Sequence

import numpy as np

from optimizer.audit.common import ANGLE_DEG, LENGTH_MM, close, count, require
from optimizer.audit.tree import children
from optimizer.mesh import Floats, Mesh, vector_areas
from optimizer.rough.model import ReferenceFace
from optimizer.sawing.model import SawCut, SawPlan, SawSetting
from optimizer.wording.plain_number import plain

_TRUE_DEG = 0.5  # what may be called parallel or square
_NATURAL_MM = 0.3  # a natural flat's surface keeps this near to its plane
_LEAST_MM2 = 1.0  # area of a flat that guides a piece
_Face = tuple[Floats, float, float]  # unit normal out of the piece, offset, how flat it is in mm


def settings_are_true(plan: SawPlan, faces: Sequence[ReferenceFace]) -> str:
    """Each flat that a cut is set by is on its piece, at the stated angle and distance."""
    meshes = {piece.id: piece.mesh for piece in plan.pieces}
    guided = 0
    for k, cut in enumerate(plan.cuts):
        if cut.setting is not None:
            known = _faces_of(plan, cut.piece, faces)
            _require_true(cut, cut.setting, known, meshes[cut.piece], f"cut {k + 1}")
            guided += cut.setting.face is not None
    return f"{count(guided, 'cut')} of {len(plan.cuts)} guided by flats as stated."


def _faces_of(plan: SawPlan, piece: int, faces: Sequence[ReferenceFace]) -> dict[str, _Face]:
    """The flats that a piece may have: the rough's, and the faces of the cuts that it came from."""
    known = {f"face {f.name}": (f.plane.normal, f.plane.offset, _NATURAL_MM) for f in faces}
    parents = {i: (k, side) for k, cut in enumerate(plan.cuts) for i, side in children(cut)}
    while piece in parents:
        k, side = parents[piece]
        cut, turn = plan.cuts[k], 1.0 if side == "below" else -1.0
        offset = turn * cut.plane.offset - cut.kerf_mm / 2.0
        known[f"the sawn face of cut {k + 1}"] = (turn * cut.plane.normal, offset, LENGTH_MM)
        piece = cut.piece
    return known


def _require_true(
    cut: SawCut, setting: SawSetting, known: dict[str, _Face], mesh: Mesh, name: str
) -> None:
    for face in {setting.face, setting.last} - {None}:
        require(face in known, f"the flat that {name} is set by", f"{face}", "a flat of its piece")
        area = _area_in(mesh, known[str(face)])
        require(
            area >= _LEAST_MM2,
            f"{face} is on the piece of {name}",
            f"{plain(area, 3)} mm² of it",
            f"{plain(_LEAST_MM2)} mm² or more",
        )
    if setting.face is not None:
        normal, offset, _ = known[setting.face]
        off = _angle_deg(cut, normal) - (90.0 if setting.square else 0.0)
        words = "square" if setting.square else "parallel"
        require(
            abs(off) <= _TRUE_DEG + ANGLE_DEG,
            f"{name} runs {words} to {setting.face}",
            f"{plain(abs(off), 4)}° off",
            f"{plain(_TRUE_DEG)}° or less",
        )
        if setting.face_mm is not None:
            away = abs(normal @ cut.centre - offset) - cut.kerf_mm / 2.0
            close(f"{name} from {setting.face}", setting.face_mm, float(away), LENGTH_MM, "mm")
    if setting.last is not None and setting.last_deg is not None:
        angle = _angle_deg(cut, known[setting.last][0])
        close(f"{name} against {setting.last}", setting.last_deg, angle, ANGLE_DEG, "°")


def _angle_deg(cut: SawCut, normal: Floats) -> float:
    return float(np.degrees(np.arccos(min(1.0, abs(float(cut.plane.normal @ normal))))))


def _area_in(mesh: Mesh, face: _Face) -> float:
    """Area in mm² of the triangles that lie in a flat, projected along its normal."""
    normal, offset, flat = face
    inside = np.abs(mesh.vertices @ normal - offset) <= flat
    corners = mesh.vertices[mesh.faces[inside[mesh.faces].all(axis=1)]]
    return float(np.maximum(vector_areas(corners) @ normal, 0.0).sum())
