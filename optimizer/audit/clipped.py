"""Volumes beside a plane and sections by it, straight from the triangles (no cutting kernel).

Sawing makes its pieces with the robust kernel, so the audit weighs them by another way.
"""

import numpy as np

from optimizer.mesh import Floats, Mesh, Plane


def volume_above(mesh: Mesh, plane: Plane) -> float:
    """Volume in mm³ of the part of a closed mesh with normal·x >= offset.

    By the divergence theorem on the field max(h, 0)·n, h the height above the plane and n its
    normal: its divergence is 1 above the plane and 0 below, so the volume is the sum over
    triangles of their area seen along n times the mean of max(h, 0) over them.
    """
    heights = mesh.vertices @ plane.normal - plane.offset
    corners = mesh.triangles - mesh.vertices.mean(axis=0)
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return float((across @ plane.normal / 2.0) @ _mean_positive(heights[mesh.faces]))


def _mean_positive(heights: Floats) -> Floats:
    """Mean of max(h, 0) over triangles whose corners have these heights, (m, 3) to (m,)."""
    a, b, c = np.sort(heights, axis=1).T
    mean = (a + b + c) / 3.0
    tip = np.where(b > 0.0, -a, c)  # the corner that is alone on its side of the plane
    square = np.where(b > 0.0, (b - a) * (c - a), (c - a) * (c - b))
    cut = (c > 0.0) & ((a < 0.0) | (b <= 0.0))
    corner = np.zeros_like(a)
    corner[cut] = tip[cut] ** 3 / (3.0 * square[cut])
    return np.asarray(np.where(b > 0.0, mean, 0.0) + corner)


def section_points(mesh: Mesh, plane: Plane) -> Floats:
    """Points (n, 2) where edges of the mesh pass through the plane, in axes along the plane."""
    heights = mesh.vertices @ plane.normal - plane.offset
    edges = np.concatenate([mesh.faces[:, [0, 1]], mesh.faces[:, [1, 2]], mesh.faces[:, [2, 0]]])
    rise = heights[edges]
    crossed = (rise[:, 0] < 0.0) & (rise[:, 1] >= 0.0)  # each edge is met both ways: take one
    start, end = mesh.vertices[edges[crossed, 0]], mesh.vertices[edges[crossed, 1]]
    share = rise[crossed, :1] / (rise[crossed, :1] - rise[crossed, 1:])
    return np.asarray((start + share * (end - start)) @ _axes_along(plane).T)


def _axes_along(plane: Plane) -> Floats:
    """Two unit vectors (2, 3) that span the plane."""
    basis = np.linalg.svd(plane.normal[None, :])[2]
    return np.asarray(basis[1:])


def least_width(points: Floats) -> float:
    """Least distance in mm between two parallel lines with the points (n, 2) between them.

    The least is reached with one line along a side of the hull; zero for fewer than three points.
    """
    import manifold3d

    if len(points) < 3:
        return 0.0
    loops = manifold3d.CrossSection.hull_points(points).to_polygons()
    if not loops:
        return 0.0
    hull = np.asarray(loops[0])
    sides = np.roll(hull, -1, axis=0) - hull
    across = np.column_stack([-sides[:, 1], sides[:, 0]])
    across /= np.linalg.norm(across, axis=1)[:, None]
    return float(np.ptp(across @ hull.T, axis=1).min())
