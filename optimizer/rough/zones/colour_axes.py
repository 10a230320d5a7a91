"""The axes along which light swings in a crystal of two or three colours."""

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats
from optimizer.rough.rough_file.table import RoughTable
from optimizer.rough.zones.colour_table import BodyColourTable
from optimizer.trade.materials import Material
from optimizer.wording.plain_number import plain

_SQUARE_DEG = 3.0  # a crystal's two axes are square; up to this much off counts as measuring error


def refuse_one_axis(material: Material, what: str) -> None:
    """Raises InputError where ``what`` states colours along axes for a species that has no such
    axes."""
    if material.pleochroism == "none":
        raise InputError(
            f"{what} gives colours along the crystal's axes, but {material.name} shows one colour "
            "in all directions (no double refraction, so no pleochroism): give one colour"
        )


def second_axis_of(
    table: RoughTable, material: Material, optic: Floats | None, second: Floats | None
) -> Floats | None:
    """The second axis (3,), turned to stand square to the optic one.

    Raises ValueError where a colour needs an axis that is not stated, or that the species lacks,
    or the two axes don't agree.
    """
    sides: list[BodyColourTable] = [table.body_colour] if table.body_colour else []
    sides += [side for zone in table.zones for side in (zone.towards, zone.away)]
    for side in sides:
        if side.axis_srgb is not None:
            refuse_one_axis(material, f"axis_srgb of {side.colour}")
        if side.axis_srgb is not None and optic is None:
            raise ValueError(f"axis_srgb of {side.colour} needs the optic axis: add optic_axis")
        if side.axis_srgb is not None and len(side.axis_srgb) == 3 and second is None:
            raise ValueError(
                f"axis_srgb of {side.colour} has three colours: add second_axis, the direction "
                "along which light of the second one swings"
            )
    if second is None:
        return None
    if optic is None:
        raise ValueError("second_axis needs the first: add optic_axis")
    off = float(np.degrees(np.arcsin(min(1.0, abs(float(second @ optic))))))
    if off > _SQUARE_DEG:
        raise ValueError(
            f"second_axis stands {90.0 - off:.1f}° to optic_axis: the two must be square, to "
            f"{plain(_SQUARE_DEG)}°"
        )
    square = second - (second @ optic) * optic
    return np.asarray(square / np.linalg.norm(square))
