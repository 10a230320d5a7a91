"""Marks on the surface: the ends of the stone's axis, the table's direction and the length's."""

from typing import Any

import numpy as np

from optimizer.guidance.model import Mark
from optimizer.mesh import Floats, Mesh
from optimizer.placement.model import Pose
from optimizer.solid import in_space, plane_frame, section


def stone_marks(pose: Pose, mesh: Mesh, solid: Any) -> tuple[Mark, ...]:
    """The marks that show on the sawn piece (as a mesh and as a robust solid) how the stone lies.

    Lines are drawn all around the piece: one at mid-girdle, parallel to the table, and one in the
    plane of the axis and the length.
    """
    x, y, z = pose.rotation.T
    out_table = first_hit(mesh, pose.translation, z)
    out_culet = first_hit(mesh, pose.translation, -z)
    out_end = first_hit(mesh, pose.translation, x)
    return (
        Mark(
            "axis, table side",
            out_table,
            z,
            "The stone's axis leaves here; the table faces this way.",
        ),
        Mark(
            "axis, culet side",
            out_culet,
            -z,
            "The stone's axis leaves here; the culet or keel points this way.",
        ),
        Mark(
            "girdle line",
            out_end,
            z,
            "All around the piece at mid-girdle, parallel to the table; the table lies on the "
            "side of the mark 'axis, table side'.",
            _line_around(solid, z, x, pose.translation),
        ),
        Mark(
            "length line",
            out_table,
            x,
            "All around the piece through both ends of the axis, along the length; the direction "
            "is the stone's +x, where gear index 0 points.",
            _line_around(solid, y, x, pose.translation),
        ),
    )


def first_hit(mesh: Mesh, start: Floats, direction: Floats) -> Floats:
    """Where a ray from a point inside the solid first meets its surface, (3,).

    Method: Möller and Trumbore 1997, Fast, minimum storage ray/triangle intersection.
    """
    corners = mesh.triangles
    e1, e2 = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    across = np.cross(direction, e2)
    det = np.einsum("ij,ij->i", e1, across)
    safe = np.where(det == 0, 1.0, det)
    to_start = start - corners[:, 0]
    u = np.einsum("ij,ij->i", to_start, across) / safe
    turned = np.cross(to_start, e1)
    v = turned @ direction / safe
    far = np.einsum("ij,ij->i", e2, turned) / safe
    slack = 1e-9  # so that a ray along an edge meets at least one of its triangles
    met = (det != 0) & (u >= -slack) & (v >= -slack) & (u + v <= 1 + slack) & (far > 0)
    return np.asarray(start + far[met].min() * direction)


def _line_around(solid: Any, normal: Floats, along: Floats, through: Floats) -> Floats:
    """The longest of the loops in which a plane through a point cuts the surface, (k, 3)."""
    frame, offset = plane_frame(normal, along), float(normal @ through)
    loops = section(solid, frame, offset)
    return in_space(max(loops, key=_length), frame, offset)


def _length(loop: Floats) -> float:
    return float(np.linalg.norm(np.roll(loop, -1, axis=0) - loop, axis=1).sum())
