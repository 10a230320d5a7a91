"""The files that follow a real cut."""

import json
from pathlib import Path
from typing import Any

from optimizer.mesh import Floats, Plane
from optimizer.report import write_plan
from optimizer.rough.save import save_rough
from optimizer.sawn.fate import Fate
from optimizer.sawn.parts import Part
from optimizer.sawn.replan import Sawn, stray_mm, tilt_deg

FORMAT = "kerfwise-sawn/1"


def write_sawn(sawn: Sawn, told: bytes, folder: Path) -> None:
    """Write into ``folder``, which is made where it is absent, each piece with its rough file, a
    plan's folder for each that stones were planned in, what was ``told`` as it was, and
    sawn.json."""
    (folder / "pieces").mkdir(parents=True)
    (folder / "sawn.toml").write_bytes(told)
    document = json.dumps(sawn_document(sawn), indent=2, ensure_ascii=False, allow_nan=False)
    (folder / "sawn.json").write_text(document + "\n", encoding="utf-8")
    for part in sawn.parted.parts:
        save_rough(part.rough, folder / rough_file(part))
    for part, plan in sawn.plans:
        write_plan(plan, folder / plan_folder(part))


def rough_file(part: Part) -> str:
    """Where the rough file of a piece lies; its mesh has the same stem."""
    return f"pieces/{part.number:02d}.toml"


def plan_folder(part: Part) -> str:
    """Where the plan of a piece lies, where there is one."""
    return f"plans/{part.number:02d}"


def sawn_document(sawn: Sawn) -> dict[str, Any]:
    """sawn.json: millimetres, degrees, carats, scan frame."""
    planned, new = sawn.planned, sawn.new
    return {
        "format": FORMAT,
        "cut": planned.number,
        "planned": _cut(planned.cut.plane, planned.cut.kerf_mm),
        "sawn": _cut(new.plane, new.kerf_mm),
        "strayed_mm": stray_mm(planned, new),
        "turned_deg": tilt_deg(planned, new),
        "pieces": [_part(sawn, part) for part in sawn.parted.parts],
        "stones": [_stone(fate) for fate in sawn.fates],
        "notes": list(sawn.notes),
        "warnings": list(sawn.warnings),
    }


def _cut(plane: Plane, kerf_mm: float) -> dict[str, Any]:
    point, normal = _vector(plane.normal * plane.offset), _vector(plane.normal)
    return {"point_mm": point, "normal": normal, "kerf_mm": kerf_mm}


def _part(sawn: Sawn, part: Part) -> dict[str, Any]:
    planned = any(one is part for one, _ in sawn.plans)
    return {
        "number": part.number,
        "planned_piece": part.piece,
        "side": part.side,
        "mesh": f"pieces/{part.rough.scan}",
        "rough_file": rough_file(part),
        "volume_mm3": float(part.rough.volume_mm3),
        "carat": float(part.rough.carat),
        "weighed_carat": part.rough.weighed_ct,
        "plan": plan_folder(part) if planned else None,
    }


def _stone(fate: Fate) -> dict[str, Any]:
    return {
        "stone": fate.stone.number,
        "design": fate.stone.design,
        "carat": fate.stone.carat,
        "piece": fate.part.number,
        "below_new_face_mm": fate.gap_mm,
        "fits_as_planned": fate.kept,
        "text": fate.sentence,
    }


def _vector(values: Floats) -> list[float]:
    return [float(value) for value in values]
