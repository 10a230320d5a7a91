"""How the crystal lies in the finished stone."""

import numpy as np

from optimizer.guidance.model import DirectionView
from optimizer.mesh import Floats
from optimizer.placement.model import Placement
from optimizer.rough.model import Rough


def view_direction(rough: Rough, placement: Placement) -> DirectionView | None:
    """The angles of the known axes to the table, and of cleavage to the nearest facet; None where
    neither axes nor cleavage are known. A direction and its opposite count as the same."""
    axes = (("optic axis", rough.optic_axis), ("growth axis", rough.growth_axis))
    table = placement.pose.rotation[:, 2]
    leans = tuple(
        (name, 90.0 - _degrees_between(axis, table)) for name, axis in axes if axis is not None
    )
    planes = rough.known_cleavage
    if not leans and not planes:
        return None
    nearest = _nearest_facet(placement, planes) if planes else (None, None)
    return DirectionView(leans, *nearest)


def _nearest_facet(placement: Placement, planes: tuple[Floats, ...]) -> tuple[float, str]:
    normals = placement.body.normals @ placement.pose.rotation.T
    angles = [min(_degrees_between(normal, plane) for plane in planes) for normal in normals]
    which = int(np.argmin(angles))
    return angles[which], placement.body.facet_names[which]


def _degrees_between(one: Floats, other: Floats) -> float:
    """The angle between two directions, 0 to 90: a direction counts as its opposite."""
    across = float(np.linalg.norm(np.cross(one, other)))
    return float(np.degrees(np.arctan2(across, abs(float(one @ other)))))
