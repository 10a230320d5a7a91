"""Volumes on one side of a plane and sections by it, from the triangles alone.

Sawing makes its pieces with the robust kernel, so the audit weighs them without it.
"""

from collections.abc import Sequence

import numpy as np

from optimizer.mesh import Floats, Mesh, Plane


def volumes_above(mesh: Mesh, normal: Floats, offsets: Sequence[float]) -> list[float]:
    """For each offset, the volume in mm³ of the part of a closed mesh with normal·x >= offset.

    By the divergence theorem on the field max(h, 0)·n, h the height above the plane and n its
    normal: its divergence is 1 above the plane and 0 below, so the volume is the sum over
    triangles of their area seen along n times the mean of max(h, 0) over them.
    """
    heights = (mesh.vertices @ normal)[mesh.faces]
    areas = _projected_areas(mesh, normal)
    return [float(areas @ _mean_positive(heights - offset)) for offset in offsets]


def _projected_areas(mesh: Mesh, normal: Floats) -> Floats:
    """Signed area (m,) of each triangle projected along ``normal``."""
    basis = _axes_along(Plane(normal, 0.0))
    flat = mesh.vertices @ np.array([basis[0], np.cross(normal, basis[0])]).T
    a, b, c = (flat[mesh.faces[:, k]] for k in range(3))
    u, v = b - a, c - a
    return np.asarray((u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2.0)


def _mean_positive(heights: Floats) -> Floats:
    """Mean of max(h, 0) (m,) over triangles whose corners have the heights h (m, 3)."""
    a, b, c = heights.T
    low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
    mean = np.where(low >= 0.0, (a + b + c) / 3.0, 0.0)
    cut = (low < 0.0) & (high > 0.0)
    mean[cut] = _mean_of_cut(np.sort(heights[cut], axis=1))
    return mean


def _mean_of_cut(ordered: Floats) -> Floats:
    """The same for triangles that the plane cuts, their heights in ascending order."""
    a, b, c = ordered.T
    two_above = b > 0.0
    tip = np.where(two_above, -a, c)  # the corner that is alone on its side of the plane
    square = np.where(two_above, (b - a) * (c - a), (c - a) * (c - b))
    corner = tip**3 / (3.0 * square)
    return np.asarray(np.where(two_above, (a + b + c) / 3.0, 0.0) + corner)


def section_points(mesh: Mesh, plane: Plane) -> Floats:
    """Points (n, 2) where edges of the mesh pass through the plane, in axes along the plane."""
    heights = mesh.vertices @ plane.normal - plane.offset
    edges = np.concatenate([mesh.faces[:, [0, 1]], mesh.faces[:, [1, 2]], mesh.faces[:, [2, 0]]])
    rise = heights[edges]
    crossed = (rise[:, 0] < 0.0) & (
        rise[:, 1] >= 0.0
    )  # each edge occurs in both directions: take one
    start, end = mesh.vertices[edges[crossed, 0]], mesh.vertices[edges[crossed, 1]]
    share = rise[crossed, :1] / (rise[crossed, :1] - rise[crossed, 1:])
    return np.asarray((start + share * (end - start)) @ _axes_along(plane).T)


def _axes_along(plane: Plane) -> Floats:
    """Two unit vectors (2, 3) that span the plane."""
    basis = np.linalg.svd(plane.normal[None, :])[2]
    return np.asarray(basis[1:])


def least_width(points: Floats) -> float:
    """Least distance in mm between two parallel lines with the points (n, 2) between them.

    At the least distance one line contains a side of the hull. Zero for fewer than three points.
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
