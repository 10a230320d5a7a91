"""Flat patches for pictures: where a plane passes through a solid, and a little beyond."""

from typing import Any

import manifold3d
import numpy as np

from optimizer.mesh import Mesh, Plane
from optimizer.solid import in_space, plane_frame

RIM_SHARE = 0.04  # of the section's longer side, so that the patch can be seen around the solid


def section_patch(solid: Any, plane: Plane) -> Mesh | None:
    """The plane's section with a robust solid, grown by a small rim; None where they miss."""
    frame = plane_frame(plane.normal, np.array([1.0, 0.0, 0.0]))
    turned = solid.transform(np.hstack([frame, np.zeros((3, 1))]))
    section = turned.slice(plane.offset)
    if section.is_empty():
        return None
    low_x, low_y, high_x, high_y = section.bounds()
    rim = RIM_SHARE * max(high_x - low_x, high_y - low_y)
    grown = section.offset(rim, manifold3d.JoinType.Round, 2.0, 24).simplify(rim / 20.0)
    outlines = [np.asarray(outline, float) for outline in grown.to_polygons()]
    faces = np.asarray(manifold3d.triangulate(outlines), np.int64)
    return Mesh(in_space(np.concatenate(outlines), frame, plane.offset), faces)
