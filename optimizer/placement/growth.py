"""A body that grows with one number σ, and the part of it that is seen through its table.

The table's outline, carried along the stone's axis down to the pavilion, cuts out a convex body.
It grows as the stone does: the table's outline is a fixed share of the width.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats

LEVEL = 1e-4  # of the body's size: corners so near to the highest are the table's
ON = 1e-9  # of the body's size: how near a plane a corner lies that is on it
TOUCHING = 1e-7  # radians: a direction so near to square to an edge touches it along the edge
NOT_A_FACET = 1e-13  # of the cosine: a direction farther from every facet's normal than this


@dataclass(frozen=True)
class Slopes:
    """How a Growth changes with each of q free parameters of its design."""

    normals: Floats  # (q, m, 3)
    alpha: Floats  # (q, m)
    beta: Floats  # (q, m)
    corners0: Floats  # (q, k, 3)
    corners1: Floats  # (q, k, 3)


@dataclass(frozen=True)
class Growth:
    """{z : normals·z <= alpha + beta·σ}, kept ``margin0 + margin1·σ`` mm from the surface.

    The margin is already part of ``alpha`` and ``beta`` (facets moved out, mitred);
    ``corners0 + corners1·σ`` are the corners without it.
    """

    normals: Floats  # (m, 3)
    alpha: Floats  # (m,)
    beta: Floats  # (m,) positive
    corners0: Floats  # (k, 3)
    corners1: Floats  # (k, 3)
    margin0: float
    margin1: float
    slopes: Slopes | None = None  # None: no parameter is free

    @cached_property
    def pace(self) -> float:
        """The least mm that a facet moves outwards for one unit of σ."""
        return float(self.beta.min())

    def kept(self, extra_mm: float) -> "Growth":
        """The same body with a margin that is larger by ``extra_mm``, which may be negative."""
        if not extra_mm:
            return self
        return replace(self, alpha=self.alpha + extra_mm, margin0=self.margin0 + extra_mm)

    @cached_property
    def under_table(self) -> "Growth":
        """The part of the body that lies straight below its table."""
        return part_under_table(self)

    def corner_slopes(self, sigma: float) -> Floats:
        """How the corners move with each free parameter, (q, k, 3)."""
        if self.slopes is None:
            return np.empty((0, *self.corners0.shape))
        return self.slopes.corners0 + self.slopes.corners1 * sigma

    def reach_slopes(self, directions: Floats, points: Floats, sigma: float) -> Floats:
        """How far the body comes to reach in unit directions (c, 3), at the points (c, 3) that it
        touches there, for each free parameter: (c, q); stone frame.

        At a facet, by the facet's plane; at an edge, between its two corners; at a corner, there.
        """
        if self.slopes is None:
            return np.empty((len(directions), 0))
        cosine = directions @ self.normals.T
        facet = np.argmax(cosine, axis=1)
        flat = cosine[np.arange(len(facet)), facet] > 1.0 - NOT_A_FACET
        s, i = self.slopes, facet
        by_plane = s.alpha[:, i] + s.beta[:, i] * sigma
        by_plane = by_plane - np.einsum("qci,ci->qc", s.normals[:, i], points)
        by_corner = self._between_corners(directions, points, sigma)
        return np.where(flat, by_plane, by_corner).T

    def _between_corners(self, directions: Floats, points: Floats, sigma: float) -> Floats:
        """The slopes (q, c) of the two corners farthest along each direction, shared by where the
        point lies between them; of the farthest alone where the other lies lower."""
        corners = self.corners0 + self.corners1 * sigma
        along = directions @ corners.T
        rows = np.arange(len(along))
        a, b = np.argpartition(-along, 1, axis=1)[:, :2].T
        edge = corners[b] - corners[a]
        length = np.einsum("ci,ci->c", edge, edge)
        share = np.einsum("ci,ci->c", points - corners[a], edge) / length
        fall = along[rows, a] - along[rows, b]
        touching = np.abs(fall) <= TOUCHING * np.sqrt(length)
        share = np.where(touching, np.clip(share, 0.0, 1.0), fall < 0.0)
        moves = np.einsum("qki,ci->qck", self.corner_slopes(sigma), directions)
        return np.asarray((1.0 - share) * moves[:, rows, a] + share * moves[:, rows, b])


def part_under_table(growth: Growth) -> Growth:
    """The part of a growing body straight below its table, growing with the same margin.

    Its facets are those of the body that still bound it, and upright ones along the table's edges.
    Raises InputError where there is no table, or the axis does not run through it.
    """
    from optimizer.design.intersect import intersect

    # Without its margin; the same facets meet at every σ, so that one tells for all.
    fixed, pace = growth.alpha - growth.margin0, growth.beta - growth.margin1
    size = float(np.abs(fixed + pace).max())
    rim = _table(growth, LEVEL * size)
    if rim.sum() < 3:
        raise InputError(
            'the stone has no table: a flaw can\'t be allowed "off the table"; take another '
            "design, or leave that out"
        )
    edges = _table_edges(growth, rim)
    normals = np.vstack([growth.normals, edges])
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


def _still(growth: Growth, facets: int, corners: int) -> Slopes | None:
    """As if free parameters left the part as it is: a step is judged exactly."""
    if growth.slopes is None:
        return None
    free = len(growth.slopes.alpha)
    return Slopes(
        np.zeros((free, facets, 3)),
        *(np.zeros((free, facets)) for _ in range(2)),
        *(np.zeros((free, corners, 3)) for _ in range(2)),
    )


def _table(growth: Growth, near: float) -> np.ndarray:
    """Which corners (k,) are the table's."""
    heights = (growth.corners0 + growth.corners1)[:, 2]
    return np.asarray(heights >= heights.max() - near)


def _table_edges(growth: Growth, rim: np.ndarray) -> Floats:
    """The outward normals (e, 3) of the table's edges, square to the axis; ``rim`` (k,) says which
    corners are the table's."""
    from scipy.spatial import ConvexHull

    corners = (growth.corners0 + growth.corners1)[rim, :2]
    equations = ConvexHull(corners).equations
    first = np.unique(np.round(equations, 9), axis=0, return_index=True)[1]
    edges = equations[np.sort(first), :2]
    return np.column_stack([edges, np.zeros(len(edges))])


def _reach(normals: Floats, corners: Floats) -> Floats:
    reach: Floats = (normals @ corners.T).max(axis=1)
    return reach
