"""``correct = "scale"`` and ``correct = "sg"``: the solid made to weigh what the balance says.

Nothing is rescaled and no specific gravity changed without that key.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Mesh
from optimizer.rough.model import Repair, Rough, Scale
from optimizer.rough.repair.solidify import MendedSolid
from optimizer.rough.rough_file.table import RoughTable
from optimizer.rough.scale.weighing import (
    MOST_LENGTH_OFF,
    MOST_SG_OFF,
    Weighing,
    can_correct_scale,
    weigh,
)
from optimizer.rough.scale.weight_words import unit_hint
from optimizer.rough.shape import farthest_from_middle
from optimizer.trade.materials import Material
from optimizer.wording.plain_number import plain

# A piece whose own specific gravity lies farther from the list is another species, or mostly
# something else (common practice, no source).
_MOST_OWN_SG_OFF = 0.25


@dataclass(frozen=True)
class ScaledSolid:
    """A solid, its scale, what is known of it and its species, once corrected as asked."""

    solid: MendedSolid
    mm_per_unit: float
    scale: Scale
    table: RoughTable
    material: Material
    warnings: tuple[str, ...] = ()


def corrected(fitted: ScaledSolid, error_mm: float, where: str) -> ScaledSolid:
    """``fitted`` corrected as its table's key ``correct`` asks; ``error_mm`` is the scan's error.

    Raises InputError where the correction is larger than a scale, or a species' SG, is ever off.
    """
    table = fitted.table
    fitted = replace(fitted, material=_of_this_piece(fitted.material, table.sg_range, where))
    if table.correct is None or table.weighed_ct is None:
        return fitted
    weighing = weigh(
        fitted.solid.mesh, fitted.material, table.weighed_ct, table.weighed_error_ct, error_mm,
        fitted.scale.error,
    )  # fmt: skip
    if table.correct == "sg":
        return _sg_corrected(fitted, weighing, where)
    return _scale_corrected(fitted, weighing, where)


def with_scale(rough: Rough, scale: Scale) -> Rough:
    """``rough`` with the scale's error added to the scan's: what it makes at the surface's
    farthest point from the middle."""
    error_mm = scale.error * farthest_from_middle(rough.mesh)
    return replace(
        rough,
        scale=replace(scale, error_mm=error_mm),
        scan_error_mm=rough.scan_error_mm + error_mm,
    )


def _of_this_piece(material: Material, sg_range: list[float] | None, where: str) -> Material:
    if sg_range is None:
        return material
    low, high = sg_range
    least, greatest = material.sg_range
    if low < (1.0 - _MOST_OWN_SG_OFF) * least or high > (1.0 + _MOST_OWN_SG_OFF) * greatest:
        listed = f"{plain(least)}" if least == greatest else f"{plain(least)} to {plain(greatest)}"
        raise InputError(
            f'{where}: key "sg_range": {plain(low)} to {plain(high)} reaches more than '
            f"{100.0 * _MOST_OWN_SG_OFF:.0f} % beyond the {listed} listed for {material.name}: "
            "check it, and the material"
        )
    sources = {**material.sources, "sg": "stated for this piece"}
    return replace(material, sg=(low + high) / 2.0, sg_range=(low, high), sources=sources)


def _scale_corrected(fitted: ScaledSolid, weighing: Weighing, where: str) -> ScaledSolid:
    factor = weighing.correction
    percent = 100.0 * (factor - 1.0)
    if not can_correct_scale(weighing):
        raise InputError(
            f'{where}: correct = "scale" would change every length by {percent:+.1f} %, and a '
            f"scale is seldom off by more than {100.0 * MOST_LENGTH_OFF:.0f} %: "
            f"{_unit(weighing, fitted) or 'check unit, material, scan and balance'}"
        )
    said = (
        f'every length of the scan is multiplied by {factor:.5f}, as correct = "scale" asks, so '
        f"that the solid weighs the {weighing.weighed_ct:.3f} ct of the balance; places named in "
        "the rough file move with it, sizes stay",
    )
    return replace(
        fitted,
        solid=_scaled_solid(fitted.solid, factor),
        mm_per_unit=fitted.mm_per_unit * factor,
        scale=Scale("weight", weighing.correction_error, correction=factor),
        table=with_places_scaled(fitted.table, factor),
        warnings=said,
    )


def _sg_corrected(fitted: ScaledSolid, weighing: Weighing, where: str) -> ScaledSolid:
    material, sg = fitted.material, 200.0 * weighing.weighed_ct / weighing.volume_mm3
    low, high = material.sg_range
    if not low * (1.0 - MOST_SG_OFF) <= sg <= high * (1.0 + MOST_SG_OFF):
        raise InputError(
            f'{where}: correct = "sg" would make it {sg:.3f}, and {material.name} of {plain(low)} '
            f"to {plain(high)} is seldom off by more than {100.0 * MOST_SG_OFF:.0f} %: "
            f"{_unit(weighing, fitted) or 'check unit, material, scan and balance'}"
        )
    said = (
        f'weights are reckoned with a specific gravity of {sg:.3f}, as correct = "sg" asks, so '
        f"that the solid weighs the {weighing.weighed_ct:.3f} ct of the balance; listed for "
        f"{material.name} is {plain(material.sg)}",
    )
    sources = {**material.sources, "sg": "this piece's weight over its volume"}
    own = replace(material, sg=sg, sg_range=weighing.own_sg, sources=sources)
    return replace(fitted, material=own, warnings=said)


def _unit(weighing: Weighing, fitted: ScaledSolid) -> str | None:
    return unit_hint(weighing, fitted.mm_per_unit) if fitted.scale.source == "unit" else None


def with_places_scaled(table: RoughTable, factor: float) -> RoughTable:
    """``table`` with every place in the scan's frame multiplied: the points under any key that
    ends in ``_mm``. Single lengths under such keys are sizes of the piece itself and stay."""
    # The dump would warn about directions given by named faces, which come back unchanged.
    stated = table.model_dump(exclude_unset=True, warnings=False)
    return RoughTable.model_validate(_moved(stated, factor))


def _moved(value: Any, factor: float, is_place: bool = False) -> Any:
    if isinstance(value, dict):
        return {key: _moved(held, factor, key.endswith("_mm")) for key, held in value.items()}
    if not isinstance(value, list):
        return value
    if is_place and _is_point(value):
        return [factor * x for x in value]
    return [_moved(held, factor, is_place) for held in value]


def _is_point(value: list[Any]) -> bool:
    return len(value) == 3 and not any(isinstance(x, list | dict) for x in value)


def _scaled_solid(solid: MendedSolid, factor: float) -> MendedSolid:
    mesh = Mesh(solid.mesh.vertices * factor, solid.mesh.faces)
    return replace(solid, mesh=mesh, repairs=tuple(_scaled(one, factor) for one in solid.repairs))


def _scaled(repair: Repair, factor: float) -> Repair:
    return replace(
        repair,
        points_mm=np.asarray(repair.points_mm * factor),
        area_mm2=repair.area_mm2 * factor**2,
        moved_mm=repair.moved_mm * factor,
    )
