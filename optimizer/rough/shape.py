"""Figures of a solid's shape: principal axes, sizes, hull, largest cross-section."""

import numpy as np

from optimizer.mesh import Floats, Mesh, cross, lengths, triangle_areas
from optimizer.solid import as_solid

_SECTIONS = 9  # heights tried along each principal axis


def principal_axes(mesh: Mesh) -> tuple[Floats, Floats]:
    """(centroid (3,), axes (3, 3) as rows, the longest way first, right-handed) of the solid.

    Second moments about the origin by tetrahedra from the mean vertex: over the tetrahedron
    (0, a, b, c) of volume V, the mean of x xᵀ is (s sᵀ + a aᵀ + b bᵀ + c cᵀ)/20, s = a + b + c.
    """
    middle = mesh.vertices.mean(axis=0)
    v = mesh.triangles - middle
    weight = np.einsum("ij,ij->i", v[:, 0], cross(v[:, 1], v[:, 2]))
    weight = weight / weight.sum()
    s = v.sum(axis=1)
    centre = weight @ s / 4.0
    spread = np.einsum("i,ij,ik->jk", weight, s, s) + np.einsum("i,ipj,ipk->jk", weight, v, v)
    axes = np.linalg.eigh(spread / 20.0 - np.outer(centre, centre))[1][:, ::-1].T.copy()
    axes[2] *= np.sign(np.linalg.det(axes))
    return centre + middle, axes


def sizes(mesh: Mesh, axes: Floats) -> Floats:
    """Extents (3,) along the rows of ``axes``, mm."""
    return np.asarray(np.ptp(mesh.vertices @ axes.T, axis=0), np.float64)


def area_mm2(mesh: Mesh) -> float:
    """Area of the surface."""
    return float(triangle_areas(mesh.triangles).sum())


def farthest_from_middle(mesh: Mesh) -> float:
    """The greatest distance of the surface from the middle of its box along the axes, mm."""
    middle = (mesh.vertices.min(axis=0) + mesh.vertices.max(axis=0)) / 2.0
    return float(lengths(mesh.vertices - middle).max())


def hull_volume_mm3(mesh: Mesh) -> float:
    """Volume of the convex hull (qhull; Barber, Dobkin, Huhdanpaa 1996)."""
    from scipy.spatial import ConvexHull

    return float(ConvexHull(mesh.vertices).volume)


def largest_section_mm2(mesh: Mesh) -> float:
    """Area of the largest of nine sections square to each principal axis."""
    centre, axes = principal_axes(mesh)
    solid = as_solid(Mesh((mesh.vertices - centre) @ axes.T, mesh.faces))
    largest = 0.0
    for turn in range(3):  # the kernel cuts along its z axis
        turned = solid.transform(np.column_stack([np.roll(np.eye(3), turn, axis=0), np.zeros(3)]))
        low, high = turned.bounding_box()[2], turned.bounding_box()[5]
        for height in np.linspace(low, high, _SECTIONS + 2)[1:-1]:
            largest = max(largest, turned.slice(float(height)).area())
    return float(largest)
