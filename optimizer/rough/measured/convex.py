"""Convex solids between planes, as closed meshes."""

import numpy as np

from optimizer.mesh import Floats, Mesh, Plane, outward_faces

_SAME_SHARE = 1e-9  # of the size: a corner of more than three planes is found several times


def between(planes: list[Plane], inner: Floats) -> Mesh:
    """The points on the inner side of all ``planes`` (normals outwards), which enclose them.

    ``inner`` (3,) is a point well within. Corners by qhull's half-space intersection (Barber,
    Dobkin, Huhdanpaa 1996). A plane that cuts nothing off leaves no trace.
    """
    from scipy.spatial import HalfspaceIntersection

    rows = np.array([[*plane.normal, -plane.offset] for plane in planes])
    return hull(_distinct(HalfspaceIntersection(rows, inner).intersections))


def hull(points: Floats) -> Mesh:
    """The convex hull of ``points`` (n, 3), wound outwards."""
    from scipy.spatial import ConvexHull

    found = ConvexHull(points)
    faces = outward_faces(points, found)
    used, numbers = np.unique(faces, return_inverse=True)
    return Mesh(points[used], numbers.reshape(faces.shape))


def _distinct(points: Floats) -> Floats:
    """One of each cluster of ``points`` (n, 3) at the same place."""
    near = _SAME_SHARE * float(np.ptp(points, axis=0).max())
    kept: list[Floats] = []
    for point in points:
        if all(np.abs(point - other).max() > near for other in kept):
            kept.append(point)
    return np.array(kept)
