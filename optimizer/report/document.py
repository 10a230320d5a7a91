"""plan.json: the plan as plain numbers, strings and lists, in the order that the schema gives."""

import math
from collections.abc import Mapping
from typing import Any

from optimizer import __version__
from optimizer.design.family import Free
from optimizer.guidance.model import DirectionView, Distance, FlawView, Guidance, Mark, TierRow
from optimizer.mesh import Floats, Plane, volume
from optimizer.offers.bound import Bound
from optimizer.placement.zone_view import ZoneView
from optimizer.plan_model import Alternative, Plan, RuledOut, Stone
from optimizer.report.boundary_look import look_about_document
from optimizer.report.held_document import held_document
from optimizer.report.look_document import brighter_document, look_document
from optimizer.rough.model import ALLOWED_NOWHERE, ALLOWED_OFF_TABLE, Flaw, Readings, Rough
from optimizer.rough.weighing import sg_span
from optimizer.sawing.model import Fitting, Offcut, Piece, SawSetting

FORMAT = "kerfwise-plan/1"
CLEARANCE_STEPS_PER_MM = 10_000  # a clearance is written rounded down to this, never up

Document = dict[str, Any]


def plan_document(plan: Plan) -> Document:
    """The whole of plan.json; only finite numbers, no dates, no folders."""
    document: Document = {
        "format": FORMAT,
        "status": plan.status,
        "interrupted": plan.interrupted,
        "made_by": {"version": __version__, "seed": plan.seed, "effort": plan.effort},
        "rough": _rough(plan.rough),
        "stones": [_stone(plan, i) for i in range(len(plan.stones))],
        "total_carat": total_carat(plan),
        "yield_percent": yield_percent(plan),
        "objective": objective(plan),
        "bound": _bound(plan.bound, total_carat(plan)),
        "pieces": [_piece(piece, plan.rough.material.sg) for piece in plan.sawing.pieces],
        "cuts": [_cut(plan, number) for number in range(len(plan.sawing.cuts))],
        "offcuts": [_offcut(offcut) for offcut in plan.sawing.offcuts],
        "alternatives": [
            _alternative(other, number) for number, other in enumerate(plan.alternatives)
        ],
        "alternatives_not_found": list(plan.not_had),
        "notes": list(plan.notes),
        "warnings": list(plan.warnings),
        "audit": {"passed": True, "checks": list(plan.audit)},
        "timing_s": {name: float(plan.timing_s[name]) for name in sorted(plan.timing_s)},
        "marks": [_mark(mark) for mark in (plan.saw_guide.marks if plan.saw_guide else ())],
        "boundary_look": look_about_document(plan.look_about),
    }
    if plan.status != "found":
        document["ruled_out_by"] = [_ruled_out(reason) for reason in plan.ruled_out_by]
    return document


def _alternative(other: Alternative, number: int) -> Document:
    """The parts of a plan, its meshes in a folder of its own; piece 0 is the same rough."""
    plan, folder = other.plan, alternative_folder(number)
    parts = {
        "stones": [_stone(plan, i) for i in range(len(plan.stones))],
        "pieces": [_piece(piece, plan.rough.material.sg) for piece in plan.sawing.pieces],
        "offcuts": [_offcut(offcut) for offcut in plan.sawing.offcuts],
    }
    for part in (one for several in parts.values() for one in several):
        for key in ("mesh", "rough_file", "label"):
            if key in part and part[key] != piece_mesh(0):
                part[key] = f"{folder}/{part[key]}"
        if part.get("look"):
            part["look"]["picture"] = f"{folder}/{part['look']['picture']}"
    return {
        "kind": other.kind,
        "sentence": other.sentence,
        **parts,
        "total_carat": total_carat(plan),
        "yield_percent": yield_percent(plan),
        "objective": objective(plan),
        "cuts": [_cut(plan, number) for number in range(len(plan.sawing.cuts))],
        "warnings": list(plan.warnings),
        "audit": {"passed": True, "checks": list(plan.audit)},
        "boundary_look": look_about_document(plan.look_about),
    }


def total_carat(plan: Plan) -> float:
    """Carats of all finished stones."""
    return math.fsum(stone.carat for stone in plan.stones)


def yield_percent(plan: Plan) -> float:
    """Finished carats in a hundred carats of rough."""
    return 100.0 * total_carat(plan) / plan.rough.carat


def objective(plan: Plan) -> Document:
    """What was made as great as can be: the weight, or the clearance where the size is fixed."""
    if plan.objective is not None:
        return dict(vars(plan.objective))
    if plan.order.size.fixed and plan.stones:
        least = min(stone.placement.clearance_mm for stone in plan.stones)
        return {"kind": "clearance", "value": rounded_down(least), "unit": "mm"}
    return {"kind": "carat", "value": total_carat(plan), "unit": "ct"}


def gap_percent(bound: Bound, carat: float) -> float | None:
    """How far the bound lies above the weight; None without a stone."""
    return 100.0 * (bound.carat / carat - 1.0) if carat > 0.0 else None


def rounded_down(clearance_mm: float) -> float:
    """A clearance that promises no more than there is, but for the last bits of rounding."""
    return math.floor(clearance_mm * CLEARANCE_STEPS_PER_MM + 1e-4) / CLEARANCE_STEPS_PER_MM


def alternative_folder(number: int) -> str:
    """Where the meshes of alternative ``number`` (from 0) lie, under the names of a plan's."""
    return f"alternatives/{number + 1:02d}"


def stone_mesh(index: int) -> str:
    """Where the mesh of stone ``index`` (from 0) lies in the plan's folder."""
    return f"stones/{index + 1:02d}.ply"


def face_picture(index: int) -> str:
    """Where the picture of stone ``index`` (from 0), face up, lies."""
    return f"face-up/{index + 1:02d}.png"


def piece_mesh(piece_id: int) -> str:
    """Where the mesh of a piece lies; piece 0 is the rough itself."""
    return f"pieces/{piece_id:02d}.ply" if piece_id else "rough.ply"


def offcut_mesh(piece_id: int) -> str:
    """Where the mesh of a kept offcut lies; its rough file has the same stem."""
    return f"offcuts/{piece_id:02d}.ply"


def offcut_file(piece_id: int) -> str:
    """Where the rough file of a kept offcut lies."""
    return f"offcuts/{piece_id:02d}.toml"


def offcut_label(piece_id: int) -> str:
    """Where the label of a kept offcut lies."""
    return f"offcuts/{piece_id:02d}-label.svg"


def flaw_mesh(number: int) -> str:
    """Where the mesh of a flaw lies, by its place in the list of flaws."""
    return f"flaws/{number + 1:02d}.ply"


def _rough(rough: Rough) -> Document:
    return {
        "scan": rough.scan,
        "measured": _measured(rough.readings),
        "triangles": len(rough.mesh.faces),
        "mm_per_unit": float(rough.mm_per_unit),
        "watertight_as_read": bool(rough.watertight_as_read),
        "repairs": [repair.sentence for repair in rough.repairs],
        "volume_mm3": float(rough.volume_mm3),
        "carat": float(rough.carat),
        "weighed_carat": rough.weighed_ct,
        "material": rough.material.name,
        "sg": float(rough.material.sg),
        "sg_range": [float(end) for end in sg_span(rough)],
        "scan_error_mm": float(rough.scan_error_mm),
        "scale": {
            "by": rough.scale.source,
            "error_percent": 100.0 * rough.scale.error,
            "correction": float(rough.scale.correction),
        },
        "flaws": [_flaw(flaw, number) for number, flaw in enumerate(rough.flaws)],
    }


def _measured(readings: Readings | None) -> Document | None:
    if readings is None:
        return None
    return {"form": readings.form, "notes": list(readings.notes)}


def _flaw(flaw: Flaw, number: int) -> Document:
    return {
        "name": flaw.name,
        "points_mm": [_vector(end) for end in flaw.ends],
        "normal": None if flaw.normal is None else _vector(flaw.normal),
        "across_mm": float(flaw.across_mm) if 0.0 < flaw.across_mm < math.inf else None,
        "radius_mm": float(flaw.radius_mm),
        "clearance_mm": float(flaw.clearance_mm),
        "mesh": None if flaw.mesh is None else flaw_mesh(number),
        "allowed": ALLOWED_OFF_TABLE if flaw.off_table else ALLOWED_NOWHERE,
    }


def _stone(plan: Plan, index: int) -> Document:
    stone = plan.stones[index]
    return {
        **_shape(stone),
        "carat_range": [float(end) for end in stone.carat_range],
        "clearance_mm": rounded_down(stone.placement.clearance_mm),
        "mesh": stone_mesh(index),
        "piece": int(plan.sawing.stone_pieces[index]),
        "free_parameters": {free.name: _free(free) for free in stone.free},
        "usual_carat": None if stone.usual_carat is None else float(stone.usual_carat),
        "bound": _bound(stone.bound, stone.carat),
        "held_by": held_document(stone),
        "look": look_document(stone.look, face_picture(index)),
        "brighter": brighter_document(stone),
        "guidance": _guidance(stone.guidance) if stone.guidance else None,
        "wanted": stone.wanted,
        "money": stone.money,
    }


def _free(free: Free) -> Document:
    return {"range": [free.low, free.high], "usual": free.usual, "step": free.step}


def _shape(stone: Stone) -> Document:
    pose = stone.placement.pose
    return {
        "design": stone.design.name,
        "parameters": _sorted(stone.parameters),
        "rotation": [_vector(row) for row in pose.rotation],
        "translation_mm": _vector(pose.translation),
        "length_mm": float(stone.length_mm),
        "width_mm": float(stone.width_mm),
        "depth_mm": float(stone.depth_mm),
        "girdle_mm": float(stone.girdle_mm),
        "volume_mm3": float(stone.volume_mm3),
        "carat": float(stone.carat),
    }


def _ruled_out(reason: RuledOut) -> Document:
    return {"demand": reason.demand, "stone": _shape(reason.stone)}


def _bound(bound: Bound | None, carat: float) -> Document | None:
    if bound is None:
        return None
    return {
        "carat": float(bound.carat),
        "gap_percent": gap_percent(bound, carat),
        "covers": {key: _plain(bound.covers[key]) for key in sorted(bound.covers)},
        "uses": list(bound.uses),
        "ignores": list(bound.ignores),
    }


def _piece(piece: Piece, sg: float) -> Document:
    return {
        "id": piece.id,
        "from_cut": piece.from_cut,
        "side": piece.side,
        "mesh": piece_mesh(piece.id),
        "carat": volume(piece.mesh) * sg / 200.0,
    }


def _cut(plan: Plan, number: int) -> Document:
    cut = plan.sawing.cuts[number]
    distances = plan.saw_guide.distances[number] if plan.saw_guide else ()
    return {
        "piece": cut.piece,
        "below": list(cut.below),
        "above": list(cut.above),
        "point_mm": _vector(cut.centre),
        "normal": _vector(cut.plane.normal),
        "kerf_mm": float(cut.kerf_mm),
        "depth_mm": float(cut.depth_mm),
        "sides": cut.sides,
        **_setting(cut.setting),
        "reason": cut.reason,
        "distances": [_distance(distance) for distance in distances],
    }


def _setting(setting: SawSetting | None) -> Document:
    if setting is None:
        return {"fence": None, "last_face": None, "angle_to_last_deg": None}
    fence = {"face": setting.face, "square": setting.square, "mm": setting.face_mm}
    return {
        "fence": None if setting.face is None else fence,
        "last_face": setting.last,
        "angle_to_last_deg": setting.last_deg,
    }


def _offcut(offcut: Offcut) -> Document:
    return {
        "piece": offcut.piece,
        "mesh": offcut_mesh(offcut.piece),
        "rough_file": offcut_file(offcut.piece),
        "label": offcut_label(offcut.piece),
        "volume_mm3": float(offcut.volume_mm3),
        "carat": float(offcut.carat),
        "could_give": None
        if offcut.fittings is None
        else [_fitting(fitting) for fitting in offcut.fittings],
    }


def _fitting(fitting: Fitting) -> Document:
    body, pose = fitting.placement.body, fitting.placement.pose
    return {
        "outline": fitting.outline,
        "design": fitting.design,
        "parameters": _sorted(fitting.parameters),
        "rotation": [_vector(row) for row in pose.rotation],
        "translation_mm": _vector(pose.translation),
        "length_mm": float(body.length_at(pose.width)),
        "width_mm": float(pose.width),
        "depth_mm": float(body.depth_at(pose.width)),
        "clearance_mm": rounded_down(fitting.placement.clearance_mm),
        "carat": float(fitting.carat),
    }


def _guidance(guidance: Guidance) -> Document:
    flat = guidance.flat
    return {
        "dopping_flat": {
            **_plane(flat.plane),
            "above_table_mm": float(flat.above_table_mm),
            "sawn_by": flat.sawn_by,
            "depth_to_grind_mm": float(flat.depth_to_grind_mm),
            "area_mm2": float(flat.area_mm2),
            "centre_mm": _vector(flat.centre),
            "circle_mm": float(flat.circle_mm),
            "text": flat.text,
        },
        "dop": {
            "least_mm": float(guidance.dop.least_mm),
            "most_mm": float(guidance.dop.most_mm),
            "text": guidance.dop.text,
        },
        "marks": [_mark(mark) for mark in guidance.marks],
        "zone": _zone(guidance.zone) if guidance.zone else None,
        "direction": _direction(guidance.direction) if guidance.direction else None,
        "flaws_within": [_flaw_view(view) for view in guidance.flaws],
        "gear": guidance.gear,
        "tiers": [_tier(row) for row in guidance.tiers],
        "ladder": [{"stage": stage, "carat": float(carat)} for stage, carat in guidance.ladder],
        "cautions": list(guidance.cautions),
    }


def _mark(mark: Mark) -> Document:
    direction = None if mark.direction is None else _vector(mark.direction)
    return {
        "name": mark.name,
        "point_mm": _vector(mark.point),
        "direction": direction,
        "text": mark.text,
    }


def _distance(distance: Distance) -> Document:
    return {
        "start": distance.start,
        "end": distance.end,
        "start_mm": _vector(distance.start_point),
        "end_mm": _vector(distance.end_point),
        "mm": float(distance.mm),
        "how": distance.how,
    }


def _zone(view: ZoneView) -> Document:
    return {
        "zone": view.zone,
        "colour": view.colour,
        "kind": view.kind,
        "tilt_deg": None if view.tilt_deg is None else float(view.tilt_deg),
        "azimuth_deg": None if view.azimuth_deg is None else float(view.azimuth_deg),
        "offset": None if view.offset is None else float(view.offset),
        "share_percent": float(view.share_percent),
    }


def _direction(view: DirectionView) -> Document:
    return {
        "axes_to_table_deg": {name: float(angle) for name, angle in view.axes_deg},
        "cleavage_deg": None if view.cleavage_deg is None else float(view.cleavage_deg),
        "cleavage_facet": view.cleavage_facet,
    }


def _flaw_view(view: FlawView) -> Document:
    return {
        "flaw": view.flaw,
        "crack": view.crack,
        "below_table_mm": float(view.below_table_mm),
        "off_axis_mm": float(view.off_axis_mm),
        "azimuth_deg": view.azimuth_deg,
        "reaches_surface": bool(view.reaches_surface),
    }


def _tier(row: TierRow) -> Document:
    return {
        "order": row.order,
        "name": row.name,
        "side": row.side,
        "angle_deg": float(row.angle_deg),
        "settings": [int(setting) for setting in row.settings],
        "cut_to": row.cut_to,
    }


def _plane(plane: Plane) -> Document:
    return {"point_mm": _vector(plane.normal * plane.offset), "normal": _vector(plane.normal)}


def _vector(values: Floats) -> list[float]:
    return [float(value) for value in values]


def _sorted(values: Mapping[str, float]) -> Document:
    return {name: float(values[name]) for name in sorted(values)}


def _plain(value: object) -> object:
    """Mappings and tuples of a bound's ``covers`` as JSON has them."""
    if isinstance(value, Mapping):
        return {str(key): _plain(value[key]) for key in sorted(value)}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value if isinstance(value, str) else float(value)  # type: ignore[arg-type]
