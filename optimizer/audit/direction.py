"""The crystal's directions in the stone, measured anew from the stone's mesh and rotation."""

import numpy as np

from optimizer.audit.common import ANGLE_DEG, require, within
from optimizer.errors import AuditError
from optimizer.guidance.model import DirectionView
from optimizer.mesh import Floats, Mesh, vector_areas
from optimizer.order import DirectionDemand
from optimizer.plan_model import Stone
from optimizer.rough.model import Rough
from optimizer.wording.plain_number import plain


def direction_is_met(
    stone: Stone, mesh: Mesh, rough: Rough, demand: DirectionDemand, name: str
) -> str:
    """The table's angle to the axis, and each facet's angle to each cleavage plane, are as
    ordered."""
    said = []
    if demand.axis_to_table_deg is not None:
        axis = rough.optic_axis if demand.axis == "optic axis" else rough.growth_axis
        angle = _axis_to_table(stone, axis, demand.axis)
        what = f"{name}'s table and the {demand.axis}"
        within(what, angle, demand.axis_to_table_deg, ANGLE_DEG, "degrees")
        said.append(f"the {demand.axis} lies at {angle:.4f}° to its table")
    if demand.cleavage_clear_deg:
        least = least_to_cleavage(stone, mesh, rough)
        require(
            least >= demand.cleavage_clear_deg - ANGLE_DEG,
            f"{name}'s facets clear of cleavage",
            f"{plain(least, 9)} degrees from the nearest",
            f"at least {plain(demand.cleavage_clear_deg)} degrees",
        )
        said.append(f"no facet lies within {least:.4f}° of a cleavage plane")
    return f"{name} keeps the directions ordered: {', '.join(said) or 'none'}."


def view_is_true(stone: Stone, mesh: Mesh, rough: Rough, view: DirectionView) -> str:
    """The angles that the guidance states are true."""
    known = {"optic axis": rough.optic_axis, "growth axis": rough.growth_axis}
    for axis, stated in view.axes_deg:
        angle = _axis_to_table(stone, known.get(axis), axis)
        within(f"the {axis} to the table as stated", angle, (stated, stated), ANGLE_DEG, "degrees")
    if view.cleavage_deg is not None:
        least, stated = least_to_cleavage(stone, mesh, rough), view.cleavage_deg
        within("cleavage to facets as stated", least, (stated, stated), ANGLE_DEG, "degrees")
    return "The crystal's directions in the stone are as stated."


def _axis_to_table(stone: Stone, axis: Floats | None, name: str) -> float:
    if axis is None:
        raise AuditError(f"the {name}: unknown; demanded: an axis of the rough")
    in_stone = stone.placement.pose.rotation.T @ axis
    return float(np.degrees(np.arctan2(abs(in_stone[2]), np.hypot(in_stone[0], in_stone[1]))))


def least_to_cleavage(stone: Stone, mesh: Mesh, rough: Rough) -> float:
    """Least angle in degrees of any facet of the mesh to any cleavage plane."""
    planes = rough.cleavage
    if not planes and rough.material.cleavage.split()[-1:] == ["basal"]:
        planes = () if rough.optic_axis is None else (rough.optic_axis,)
    if not planes:
        raise AuditError("cleavage: unknown; demanded: a cleavage plane of the rough")
    facets = np.zeros((int(stone.placement.body.facet_of_face.max()) + 1, 3))
    np.add.at(facets, stone.placement.body.facet_of_face, vector_areas(mesh.triangles))
    facets = facets[np.linalg.norm(facets, axis=1) > 0.0]
    angles = [
        np.arctan2(np.linalg.norm(np.cross(facets, plane), axis=1), np.abs(facets @ plane))
        for plane in planes
    ]
    return float(np.degrees(np.min(angles)))
