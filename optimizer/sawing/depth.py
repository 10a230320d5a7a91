"""How far the blade must go through the piece."""

import numpy as np
from scipy.spatial import ConvexHull

from optimizer.mesh import Floats, Ints, Mesh, Plane
from optimizer.order import Workshop
from optimizer.solid import plane_frame


def deepest_mm(workshop: Workshop) -> float:
    """The deepest cut in mm that the saw can make. A wire has no limit. A blade cuts as deep as its
    reach, or twice as deep where the piece may be turned over and sawn from its other side."""
    if workshop.saw == "wire":
        return float("inf")
    return workshop.saw_reach_mm * (2.0 if workshop.two_sided else 1.0)


def sides_of(depth_mm: float, workshop: Workshop) -> int:
    """From how many sides (1 or 2) the saw makes a cut of this depth."""
    one = workshop.saw == "wire" or depth_mm <= workshop.saw_reach_mm
    return 1 if one else 2


def cut_depth(mesh: Mesh, plane: Plane, kerf_mm: float) -> float:
    """The depth in mm of a cut from one side: the least width of what the kerf removes, seen along
    the plane's normal. The blade enters along this least width, the shortest way through."""
    frame = plane_frame(plane.normal, np.eye(3)[int(np.argmin(np.abs(plane.normal)))])
    return least_width(_kerf_points(mesh, plane, kerf_mm) @ frame[:2].T)


def least_width(points: Floats) -> float:
    """The least width in mm of points (n, 2): the least distance between two parallel lines that
    enclose them.

    One of the two lines contains a side of the convex hull (Houle and Toussaint 1988, Computing
    the width of a set).
    """
    if len(points) < 3 or np.linalg.matrix_rank(points - points[0], tol=1e-9) < 2:
        return 0.0
    hull = ConvexHull(points)
    corners = points[hull.vertices]
    reach = hull.equations[:, :2] @ corners.T + hull.equations[:, 2:]
    return float((-reach.min(axis=1)).min())


def _kerf_points(mesh: Mesh, plane: Plane, kerf_mm: float) -> Floats:
    """Points (n, 3) with the same convex hull as the part of the solid within the kerf."""
    height = mesh.vertices @ plane.normal - plane.offset
    within = mesh.vertices[np.abs(height) <= kerf_mm / 2.0]
    edges = np.vstack([mesh.faces[:, [0, 1]], mesh.faces[:, [1, 2]], mesh.faces[:, [2, 0]]])
    edges = edges[edges[:, 0] < edges[:, 1]]  # a closed mesh has each edge in both directions
    faces = {-kerf_mm / 2.0, kerf_mm / 2.0}
    crossings = [_crossings(mesh.vertices, edges, height - face) for face in sorted(faces)]
    return np.vstack([within, *crossings])


def _crossings(vertices: Floats, edges: Ints, height: Floats) -> Floats:
    """Points (k, 3) where edges pass from below height 0 to above it."""
    start, end = height[edges[:, 0]], height[edges[:, 1]]
    crossed = start * end < 0
    share = (start[crossed] / (start[crossed] - end[crossed]))[:, None]
    first, last = vertices[edges[crossed, 0]], vertices[edges[crossed, 1]]
    return np.asarray(first + share * (last - first))
