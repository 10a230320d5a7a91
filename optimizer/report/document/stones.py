"""Finished stones in plan.json."""

from collections.abc import Mapping
from typing import Any

from optimizer.design.family import Free
from optimizer.documents.names import face_picture, stone_mesh
from optimizer.documents.quantities import rows, vector
from optimizer.documents.stones import (
    BoundRecord,
    CoversRecord,
    FreeParameterRecord,
    ShapeRecord,
    StoneRecord,
)
from optimizer.offers.bound import Bound
from optimizer.plan_model import Plan, Stone
from optimizer.report.document.active_constraints import held_by_record
from optimizer.report.document.guidance import guidance_record
from optimizer.report.document.look import boundary_look_record, brighter_record, look_record
from optimizer.report.document.numbers import by_name, rounded_down
from optimizer.report.figures import gap_percent


def stone_record(plan: Plan, index: int, home: str) -> StoneRecord:
    """Stone ``index``, from 0; ``home`` is the folder of its files."""
    stone = plan.stones[index]
    return StoneRecord(
        **_shape(stone),
        carat_range=tuple(float(end) for end in stone.carat_range),
        clearance_mm=rounded_down(stone.placement.clearance_mm),
        mesh=home + stone_mesh(index),
        piece=int(plan.sawing.stone_pieces[index]),
        free_parameters={free.name: _free(free) for free in stone.free},
        usual_carat=None if stone.usual_carat is None else float(stone.usual_carat),
        bound=bound_record(stone.bound, stone.carat),
        held_by=held_by_record(stone),
        look=look_record(stone.look, home + face_picture(index)),
        boundary_look=boundary_look_record(stone.look_about),
        brighter=brighter_record(stone),
        guidance=guidance_record(stone.guidance),
        wanted=stone.wanted,
        money=stone.money,
    )


def shape(stone: Stone) -> ShapeRecord:
    """A stone's shape, pose and weight alone."""
    return ShapeRecord(**_shape(stone))


def _shape(stone: Stone) -> dict[str, Any]:
    pose = stone.placement.pose
    return {
        "design": stone.design.name,
        "parameters": by_name(stone.parameters),
        "rotation": rows(pose.rotation),
        "translation_mm": vector(pose.translation),
        "length_mm": float(stone.length_mm),
        "width_mm": float(stone.width_mm),
        "depth_mm": float(stone.depth_mm),
        "girdle_mm": float(stone.girdle_mm),
        "volume_mm3": float(stone.volume_mm3),
        "carat": float(stone.carat),
    }


def _free(free: Free) -> FreeParameterRecord:
    return FreeParameterRecord(range=(free.low, free.high), usual=free.usual, step=free.step)


def bound_record(bound: Bound | None, carat: float) -> BoundRecord | None:
    """A bound on stones that weigh ``carat``."""
    if bound is None:
        return None
    return BoundRecord(
        carat=float(bound.carat),
        gap_percent=gap_percent(bound, carat),
        covers=CoversRecord(
            designs=_plain(bound.covers["designs"]), parameters=_plain(bound.covers["parameters"])
        ),
        uses=bound.uses,
        ignores=bound.ignores,
    )


def _plain(value: object) -> Any:
    """Mappings and sequences of a bound's ``covers``, names sorted, all numbers double."""
    if isinstance(value, Mapping):
        return {str(key): _plain(value[key]) for key in sorted(value)}
    if isinstance(value, list | tuple):
        return tuple(_plain(item) for item in value)
    return value if isinstance(value, str) else float(value)  # type: ignore[arg-type]
