"""Convex bodies with a clearance all round: stones with their half of every kerf beside them."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from optimizer.mesh import Floats, lengths, outward_faces, vector_areas
from optimizer.placement.bound import mean_width
from optimizer.placement.containers import Planes

ON = 1e-9  # mm: corners so near to the farthest are farthest as well
INWARD = 1e-6  # of the radius: more than planes differ that are taken for one
FLAT = 1e-9  # of the extent cubed: points that enclose less lie in a plane


@dataclass(frozen=True)
class ConvexMeasures:
    """Volume (mm³), surface (mm²) and mean width (mm) of a convex body."""

    volume: float
    surface: float
    mean_width: float

    @staticmethod
    def of(corners: Floats) -> "ConvexMeasures":
        """Of the hull of ``corners`` (k, 3); corners in one plane count as a point."""
        from scipy.spatial import ConvexHull

        if _flat(corners):
            return ConvexMeasures(0.0, 0.0, 0.0)
        hull = ConvexHull(corners)
        faces = outward_faces(corners, hull)
        along = vector_areas(corners[faces])
        width = mean_width(corners, faces, along / lengths(along)[:, None])
        return ConvexMeasures(float(hull.volume), float(hull.area), width)

    def dilated(self, clearance: float, scale: float = 1.0) -> float:
        """The volume of the body ``scale`` times as large with a clearance all round, by Steiner's
        formula: V + S·r + 2π·b·r² + 4π/3·r³ with the mean width b (Schneider, Convex Bodies: The
        Brunn-Minkowski Theory, section 4.2)."""
        r = clearance
        flat = self.surface * scale**2 * r + 2.0 * np.pi * self.mean_width * scale * r**2
        return float(self.volume * scale**3 + flat + 4.0 / 3.0 * np.pi * r**3)


def corners_within(planes: Planes) -> Floats | None:
    """The corners (k, 3) of {x : normals·x <= offsets}; None where it is empty or flat."""
    from scipy.optimize import linprog
    from scipy.spatial import HalfspaceIntersection

    deepest = linprog(
        [0.0, 0.0, 0.0, -1.0],
        A_ub=np.column_stack([planes.normals, np.ones(len(planes.normals))]),
        b_ub=planes.offsets,
        bounds=[(None, None)] * 3 + [(0.0, None)],
    )
    if deepest.status != 0 or deepest.x[3] <= ON:
        return None
    halves = np.column_stack([planes.normals, -planes.offsets])
    return np.asarray(HalfspaceIntersection(halves, deepest.x[:3]).intersections)


@dataclass(frozen=True)
class DilatedBody:
    """A polytope inscribed in a convex body with a clearance all round, about the middle of its
    box: {x : normals·x <= offsets}, with ``corners``; ``stone`` are the corners of the body without
    the clearance."""

    normals: Floats  # (f, 3)
    offsets: Floats  # (f,) mm
    corners: Floats  # (k, 3) mm
    stone: Floats  # (s, 3) mm

    @staticmethod
    def of(stone: Floats, clearance: float) -> "DilatedBody":
        """The hull of the body's corners moved by the clearance along the axes and square to the
        body's own faces."""
        from scipy.spatial import ConvexHull

        directions = np.vstack([np.eye(3), -np.eye(3)])
        if not _flat(stone):
            directions = np.vstack([directions, ConvexHull(stone).equations[:, :3]])
        along = directions @ stone.T
        which, corner = np.nonzero(along >= along.max(axis=1)[:, None] - ON)
        points = stone[corner] + clearance * directions[which]
        middle = 0.5 * (points.max(axis=0) + points.min(axis=0))
        hull = ConvexHull(points - middle)
        planes = hull.equations[np.unique(hull.equations.round(7), axis=0, return_index=True)[1]]
        corners = hull.points[hull.vertices]
        # Of planes that differ by rounding one stays; moved in, it leaves the polytope inscribed.
        offsets = -planes[:, 3] - INWARD * lengths(corners).max()
        return DilatedBody(planes[:, :3], offsets, corners, stone - middle)

    @cached_property
    def radius(self) -> float:
        """How far the body reaches from its middle, mm."""
        return float(lengths(self.corners).max())

    @cached_property
    def half_extents(self) -> Floats:
        """Half the extents along x, y and z, (3,) mm."""
        return np.asarray(np.ptp(self.corners, axis=0) / 2.0)


def _flat(corners: Floats) -> bool:
    """Whether points enclose no volume."""
    apart = corners - corners[0]
    size = float(np.abs(apart).max())
    return bool(size == 0.0 or np.linalg.matrix_rank(apart, tol=FLAT * size) < 3)
