"""A solid that fills its convex hull but for a hair, held between few planes.

The faces of a sawn piece, or of a model in single precision, are flat but for rounding: its hull
has thousands of planes, and its surface lies a little inside them.
"""

from typing import Any

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.containers import Planes, Surface
from optimizer.placement.kernels.gauges import surface_gauge

FEW_PLANES = 300  # up to here planes are quicker than points of a surface
HAIR = 1e-4  # of the longest side: the surface lies no deeper within the planes than this
# Faces of the hull that lie together within a share of the longest side are one plane: first within
# what rounding in single precision leaves.
TOGETHER = (1e-6, HAIR)


def between_planes(hull: Any, surface: Surface, enclosed: float) -> tuple[Planes, Planes] | None:
    """Planes that a solid lies within, and the same moved in until they lie within the solid.

    ``hull`` is the scipy ConvexHull of the corners of the ``surface``, about an origin inside the
    solid; ``enclosed`` is the solid's volume. None where the surface lies deeper in the planes than
    by a hair, or the planes are more than few.
    """
    side = float(np.ptp(hull.points[hull.vertices], axis=0).max())
    if hull.volume - enclosed > HAIR * side * hull.area:  # so much of it lies deeper
        return None
    for share in TOGETHER:
        outer = _planes_together(hull, share * side)
        depth = np.inf if outer is None else deepest(outer, surface)
        if outer is not None and depth <= HAIR * side:
            return outer, Planes(outer.normals, outer.offsets - depth)
    return None


def deepest(planes: Planes, surface: Surface) -> float:
    """How deep within the convex solid of some planes a surface comes at most, mm; exact.

    The least over the surface of the greatest of the planes' heights is a gauge.
    """
    none = np.empty((0, 3))
    placed = (planes.normals, planes.offsets, none, none, np.zeros(2))
    return max(0.0, -float(surface_gauge(surface.triangles, surface.boxes, placed, -np.inf, 0.0)))


def _planes_together(hull: Any, together: float) -> Planes | None:
    """The hull's planes, those one whose faces lie together; they hold all of the hull. None where
    they are more than few."""
    corners, facing = hull.points[hull.simplices], hull.equations[:, :3]
    sides = corners[:, 1:] - corners[:, :1]
    areas = np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1)
    left = np.argsort(-areas, kind="stable")
    normals: list[Floats] = []
    while len(left):
        if len(normals) == FEW_PLANES:
            return None
        first = hull.equations[left[0]]
        near = (corners[left] @ first[:3]).min(axis=1) >= -first[3] - together
        normal = areas[left[near]] @ facing[left[near]]
        normals.append(normal / np.linalg.norm(normal))
        left = left[~near]
    planes = np.array(normals)
    return Planes(planes, (hull.points[hull.vertices] @ planes.T).max(axis=0))
