"""The smallest box around a piece, as a caliper would find it: the smallest of many tried."""

from typing import Any

import numpy as np

from optimizer.mesh import Floats, Mesh, cross, even_directions, square_to, triangle_areas

DIRECTIONS = 400  # half of them opposite to the others; measured: within 2 % of the least volume
FLATS = 60  # the hull's largest facets, on which a box usually rests


def least_box(mesh: Mesh) -> tuple[Floats, Floats]:
    """(axes (3, 3) as rows, right-handed, the longest way first; sizes (3,) along them, mm).

    One face of the box is square to a facet's normal or to one of many evenly spread directions.
    The other faces form the least rectangle about the piece's projection along this direction; one
    side of this rectangle lies on a side of the projection's hull (Freeman and Shapira 1975,
    Determining the minimum-area encasing rectangle).
    """
    from scipy.spatial import ConvexHull

    hull = ConvexHull(mesh.vertices)
    corners = mesh.vertices[hull.vertices]
    best, axes = np.inf, np.eye(3)
    ways = np.vstack([_largest_facets(hull), even_directions(DIRECTIONS)[: DIRECTIONS // 2]])
    least = np.ptp(corners @ ways.T, axis=0) * _shadows(hull, ways)  # which the rectangles hold
    for out, smallest in zip(ways, least, strict=True):
        if smallest >= best:
            continue
        u = square_to(out)
        flat = np.array([u, cross(out, u)])
        area, along = _least_rectangle(corners @ flat.T)
        volume = area * float(np.ptp(corners @ out))
        if volume < best * (1.0 - 1e-9):
            best, way = volume, along @ flat
            axes = np.array([way, cross(out, way), out])
    sizes = np.ptp(corners @ axes.T, axis=0)
    order = np.argsort(-np.round(sizes, 9), kind="stable")
    axes = axes[order]
    axes[2] *= np.sign(np.linalg.det(axes))
    return axes, sizes[order]


def _largest_facets(hull: Any) -> Floats:
    """Outward normals of the hull's largest facets; coplanar triangles count as one facet."""
    normals, inverse = np.unique(hull.equations[:, :3].round(6), axis=0, return_inverse=True)
    corners = hull.points[hull.simplices]
    areas = np.bincount(inverse.ravel(), triangle_areas(corners))
    largest = normals[np.argsort(-areas, kind="stable")[:FLATS]]
    return np.asarray(largest / np.linalg.norm(largest, axis=1)[:, None])


def _shadows(hull: Any, ways: Floats) -> Floats:
    """Areas (k,) of the hull's projections along unit directions (k, 3)."""
    facing = np.abs(hull.equations[:, :3] @ ways.T)
    return np.asarray(triangle_areas(hull.points[hull.simplices]) @ facing / 2.0)


def _least_rectangle(points: Floats) -> tuple[float, Floats]:
    """(area, unit direction (2,) of one side) of the least rectangle about points (n, 2)."""
    from scipy.spatial import ConvexHull

    rim = points[ConvexHull(points).vertices]
    sides = np.roll(rim, -1, axis=0) - rim
    ways = sides / np.linalg.norm(sides, axis=1)[:, None]
    across = np.column_stack([-ways[:, 1], ways[:, 0]])
    areas = np.ptp(rim @ ways.T, axis=0) * np.ptp(rim @ across.T, axis=0)
    best = int(np.argmin(areas))
    return float(areas[best]), np.asarray(ways[best])
