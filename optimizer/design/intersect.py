"""The convex solid that is left when half-spaces are cut away, with its corners made exact."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import HalfspaceIntersection

from optimizer.mesh import Floats, Ints, cross, triangle_areas

# Corners closer than this (at width 1) are one meet. Far above rounding (1e-14), far below
# anything a lap can cut (1e-8 of a 10 mm stone is a tenth of a millionth of a millimetre).
MEET = 1e-8
# A plane passes through a corner that lies this near to it. This is less than MEET·sin(0.1°), so a
# plane through one of two distinct corners is not taken to pass through the other one too.
ON_PLANE = 1e-11


@dataclass(frozen=True)
class Polyhedron:
    """A convex solid: corners, and for each half-space its polygon of corner numbers."""

    corners: Floats  # (k, 3)
    polygons: tuple[Ints, ...]  # each counter-clockwise from outside; empty where nothing is left


def intersect(normals: Floats, offsets: Floats) -> Polyhedron:
    """The solid {z : normals·z <= offsets}; ``normals`` (m, 3) of length one, ``offsets`` (m,) > 0.

    The corners come from scipy's half-space intersection (qhull). Corners that lie together are
    merged into one meet, which is then put exactly on the planes that pass through it. Where the
    half-spaces enclose no solid, some polygons are missing or open: see ``is_closed``.
    """
    points = raw_corners(normals, offsets)
    groups = _gather(points)
    touching = np.abs(points @ normals.T - offsets) <= ON_PLANE * np.maximum(1.0, offsets)
    meets = np.array([touching[group].any(axis=0) for group in groups])
    starts = np.array([points[group[0]] for group in groups])
    # In the order of the planes that meet in them: bodies of equal make number their corners alike,
    # which qhull's order depends on the last digit for.
    order = np.lexsort(meets.T[::-1])
    starts, meets = starts[order], meets[order]
    corners = np.array(
        [_settle(at, normals[on], offsets[on]) for at, on in zip(starts, meets, strict=True)]
    )
    polygons = [_around(corners, np.flatnonzero(meets[:, i]), n) for i, n in enumerate(normals)]
    return Polyhedron(corners, tuple(polygons))


def raw_corners(normals: Floats, offsets: Floats) -> Floats:
    """Every corner of the intersection, (k, 3), to rounding error; corners may repeat."""
    halves = np.column_stack([normals, -offsets])
    with np.errstate(divide="ignore", invalid="ignore"):  # corners at infinity of an open solid
        points = np.asarray(HalfspaceIntersection(halves, np.zeros(3)).intersections, np.float64)
    points = points[np.isfinite(points).all(axis=1)]
    # Where the half-spaces are open to infinity, qhull's dual yields points beyond them.
    return points[(points @ normals.T <= offsets + MEET).all(axis=1)]


def _gather(points: Floats) -> list[Ints]:
    near = np.linalg.norm(points[:, None] - points[None], axis=2) <= MEET
    first = np.argmax(near, axis=1)
    return [np.flatnonzero(first == lead) for lead in np.unique(first)]


def _settle(point: Floats, normals: Floats, offsets: Floats) -> Floats:
    """The point moved, by least squares, onto the planes it touches."""
    shift = np.linalg.lstsq(normals, offsets - normals @ point, rcond=None)[0]
    return np.asarray(point + shift, np.float64)


def _around(corners: Floats, members: Ints, normal: Floats) -> Ints:
    """The polygon's corner numbers in counter-clockwise order, seen against ``normal``."""
    if len(members) < 3:
        return np.zeros(0, np.int64)
    spokes = corners[members] - corners[members].mean(axis=0)
    right = spokes[np.argmax(np.linalg.norm(spokes, axis=1))]
    up = cross(normal, right)
    return members[np.argsort(np.arctan2(spokes @ up, spokes @ right), kind="stable")]


def is_closed(solid: Polyhedron) -> bool:
    """Whether the polygons close the solid: each edge occurs once in each direction."""
    edges = [
        edge
        for polygon in solid.polygons
        for edge in zip(polygon.tolist(), np.roll(polygon, -1).tolist(), strict=True)
    ]
    known = set(edges)
    once_each = len(known) == len(edges)
    return bool(edges) and once_each and all((b, a) in known for a, b in edges)


def triangles(solid: Polyhedron) -> tuple[Ints, Ints]:
    """(triangles (f, 3), the polygon that each belongs to (f,)): every polygon as a fan."""
    faces = [
        (polygon[0], polygon[j], polygon[j + 1], i)
        for i, polygon in enumerate(solid.polygons)
        for j in range(1, len(polygon) - 1)
    ]
    table = np.array(faces, np.int64)
    return np.ascontiguousarray(table[:, :3]), np.ascontiguousarray(table[:, 3])


def areas(solid: Polyhedron) -> Floats:
    """The area of every half-space's polygon, (m,); 0 where nothing is left of it."""
    faces, owner = triangles(solid)
    corners = solid.corners[faces]
    sums = np.bincount(owner, triangle_areas(corners), minlength=len(solid.polygons))
    return np.asarray(sums, np.float64)
