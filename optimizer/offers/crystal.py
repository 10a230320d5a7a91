"""The crystal's axes and cleavage planes in a piece, as an order speaks of them."""

from dataclasses import replace

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats
from optimizer.order import DirectionDemand, Order
from optimizer.placement.direction import Direction
from optimizer.rough.model import Rough

CLEAVAGE_DEG = 5.0  # a facet nearer to a cleavage plane may not polish; common practice, no source


def axis_of(rough: Rough, name: str) -> Floats:
    """The "optic axis" or "growth axis", (3,) unit, scan frame. Raises InputError where it is not
    known."""
    axis = rough.optic_axis if name == "optic axis" else rough.growth_axis
    if axis is None:
        raise InputError(
            f"the order's [direction] speaks of the {name}, which is not known for {rough.scan}; "
            f"add {name.replace(' ', '_')} = [x, y, z] to its rough file"
        )
    return axis


def cleavage_of(rough: Rough) -> tuple[Floats, ...]:
    """The normals of the cleavage planes, (3,) unit, scan frame. Raises InputError where none is
    known."""
    planes, basal = rough.known_cleavage, rough.material.basal_cleavage
    if planes:
        return planes
    other = " or, as it is basal, optic_axis = [x, y, z]" if basal else ""
    raise InputError(
        f"the order's cleavage_clear_deg needs the cleavage of {rough.scan}; add "
        f"cleavage = [[x, y, z]]{other} to its rough file"
    )


def with_cleavage_clearance(rough: Rough, order: Order) -> Order:
    """The order with facets kept CLEAVAGE_DEG away from known cleavage planes, where the species'
    cleavage is perfect or the rough file states planes. An order that states its own
    cleavage_clear_deg stays as it is."""
    asked = order.direction or DirectionDemand()
    matters = rough.cleavage or rough.material.cleavage.startswith("perfect")
    if asked.cleavage_clear_deg is not None or not matters or not rough.known_cleavage:
        return order
    return replace(order, direction=replace(asked, cleavage_clear_deg=CLEAVAGE_DEG))


def direction_of(rough: Rough, order: Order) -> Direction | None:
    """The order's [direction] in the scan frame. Raises InputError where the rough does not have
    what it needs."""
    asked = order.direction
    if asked is None:
        return None
    axis, ends = None, (0.0, 90.0)
    if asked.axis_to_table_deg is not None:
        axis, ends = axis_of(rough, asked.axis), asked.axis_to_table_deg
    cleavage: tuple[Floats, ...] = ()
    if asked.cleavage_clear_deg:
        cleavage = cleavage_of(rough)
    return Direction(
        axis=axis,
        axis_to_table=(float(np.radians(ends[0])), float(np.radians(ends[1]))),
        cleavage=np.array(cleavage).reshape(-1, 3),
        clear=float(np.radians(asked.cleavage_clear_deg or 0.0)),
    )
