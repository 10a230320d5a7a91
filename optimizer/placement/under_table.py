"""The part of a growing stone that is seen through its table: what lies straight below it.

The table's outline, carried along the stone's axis down to the pavilion, cuts out a convex body.
It grows as the stone does: the table's outline is a fixed share of the width.
"""

from typing import TYPE_CHECKING

import numpy as np

from optimizer.mesh import Floats

if TYPE_CHECKING:
    from optimizer.placement.growth import Growth, Slopes

LEVEL = 1e-4  # of the body's size: corners so near to the highest are the table's
ON = 1e-9  # of the body's size: how near a plane a corner lies that is on it


def part_under_table(growth: "Growth") -> "Growth":
    """The part of a growing body straight below its table, growing with the same margin.

    Its facets are those of the body that still bound it, and upright ones along the table's edges.
    Raises InputError where the axis does not run through the table.
    """
    from dataclasses import replace

    from optimizer.design.intersect import intersect
    from optimizer.errors import InputError

    # Without its margin; the same facets meet at every σ, so that one tells for all.
    fixed, pace = growth.alpha - growth.margin0, growth.beta - growth.margin1
    size = float(np.abs(fixed + pace).max())
    edges = _table_edges(growth, LEVEL * size)
    normals = np.vstack([growth.normals, edges])
    rim = _table(growth, LEVEL * size)
    fixed = np.concatenate([fixed, _reach(edges, growth.corners0[rim])])
    pace = np.concatenate([pace, _reach(edges, growth.corners1[rim])])
    if np.any(fixed + pace <= ON * size):
        raise InputError(
            "the stone's axis runs beside its table: a flaw can't be allowed \"off the table\"; "
            "take another design, or leave that out"
        )
    solid = intersect(normals, (fixed + pace) / size)
    kept = np.array([len(polygon) > 0 for polygon in solid.polygons])
    normals, fixed, pace = normals[kept], fixed[kept], pace[kept]
    apart = np.abs(solid.corners @ normals.T - (fixed + pace) / size)
    where = [np.linalg.lstsq(normals[on], np.c_[fixed, pace][on])[0] for on in apart <= ON]
    corners = np.array(where)
    return replace(
        growth,
        normals=np.ascontiguousarray(normals),
        alpha=fixed + growth.margin0,
        beta=pace + growth.margin1,
        corners0=np.ascontiguousarray(corners[:, :, 0]),
        corners1=np.ascontiguousarray(corners[:, :, 1]),
        slopes=_still(growth, len(normals), len(corners)),
    )


def _still(growth: "Growth", facets: int, corners: int) -> "Slopes | None":
    """As if free parameters left the part as it is: a step is judged exactly."""
    from optimizer.placement.growth import Slopes

    if growth.slopes is None:
        return None
    free = len(growth.slopes.alpha)
    return Slopes(
        np.zeros((free, facets, 3)),
        *(np.zeros((free, facets)) for _ in range(2)),
        *(np.zeros((free, corners, 3)) for _ in range(2)),
    )


def _table(growth: "Growth", near: float) -> np.ndarray:
    """Which corners (k,) are the table's."""
    heights = (growth.corners0 + growth.corners1)[:, 2]
    return np.asarray(heights >= heights.max() - near)


def _table_edges(growth: "Growth", near: float) -> Floats:
    """The outward normals (e, 3) of the table's edges, square to the axis."""
    from scipy.spatial import ConvexHull

    corners = (growth.corners0 + growth.corners1)[_table(growth, near), :2]
    equations = ConvexHull(corners).equations
    first = np.unique(np.round(equations, 9), axis=0, return_index=True)[1]
    edges = equations[np.sort(first), :2]
    return np.column_stack([edges, np.zeros(len(edges))])


def _reach(normals: Floats, corners: Floats) -> Floats:
    reach: Floats = (normals @ corners.T).max(axis=1)
    return reach
