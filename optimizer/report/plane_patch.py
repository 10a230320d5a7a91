"""Flat patches for pictures: where a plane passes through a solid, and a little beyond."""

import manifold3d
import numpy as np

from optimizer.mesh import Mesh, Plane
from optimizer.solid import as_solid, plane_frame

RIM_SHARE = 0.04  # of the section's longer side, so that the patch can be seen around the solid


def section_patch(mesh: Mesh, plane: Plane) -> Mesh | None:
    """The plane's section with a closed ``mesh``, grown by a small rim; None where they miss."""
    frame = plane_frame(plane.normal, np.array([1.0, 0.0, 0.0]))
    section = as_solid(Mesh(mesh.vertices @ frame.T, mesh.faces)).slice(plane.offset)
    if section.is_empty():
        return None
    low_x, low_y, high_x, high_y = section.bounds()
    rim = RIM_SHARE * max(high_x - low_x, high_y - low_y)
    grown = section.offset(rim, manifold3d.JoinType.Round, 2.0, 24).simplify(rim / 20.0)
    outlines = [np.asarray(outline, float) for outline in grown.to_polygons()]
    faces = np.asarray(manifold3d.triangulate(outlines), np.int64)
    flat = np.concatenate(outlines)
    level = np.full((len(flat), 1), plane.offset)
    return Mesh(np.hstack([flat, level]) @ frame, faces)
