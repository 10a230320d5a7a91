"""What holds the stone: the planes of a convex solid, points of a surface, or the surface whole.

Each answers the same two questions about a growing body at a pose: how large may the body be
(``gauge``), and which features hold it, as linear rows for the next step (``rows``). A row r with
limit l says r·(δσ, δt, θ, δp) <= l, where δt moves the stone in mm, θ turns it by an
angle in radians × ``mm_per_radian``, and δp changes the design's free parameters, where there are
any.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Protocol

import numpy as np

from optimizer.boxes.kernels.build import LEAF
from optimizer.boxes.tree import box_tree, box_tree_over
from optimizer.mesh import Floats, Ints, Mesh, Plane, cross, greatest, lengths, unit_normals
from optimizer.placement.growth import Growth
from optimizer.placement.kernels.contacts import surface_contacts, uncrowded_depth
from optimizer.placement.kernels.gauges import surface_gauge, world_facets
from optimizer.placement.kernels.points import point_contacts, point_gauge
from optimizer.placement.kernels.windings import windings
from optimizer.placement.situation import Situation

Rows = tuple[Floats, Floats]
Placed = tuple[Floats, Floats, Floats, Floats, Floats]
"""A growth at a pose: facets g, h; the corners' base and pace; margins (``kernels.gauges``)."""
NEAR = 0.1  # share of the band in which a triangle's own least gauge counts, not just a facet's
MOST_PLACES = 256  # places of the surface near the stone that get a row
EVERY = 60  # deeper than any tree: each triangle is taken on its own
# A triangle with a longer edge, in mm or as a share of the whole surface's size, can lie under more
# than one corner of a stone.
LARGE_MM, LARGE_SHARE = 1.0, 0.05


class Container(Protocol):
    """Something that the stone must stay inside."""

    def gauge(self, at: Situation, floor: float) -> float:
        """The greatest σ at this pose; any value below ``floor`` may be returned early."""
        ...

    def rows(self, at: Situation, band: float) -> Rows:
        """Rows (r, 7 + q) and limits (r,) of every feature reached before σ = ``at.sigma`` +
        ``band``."""
        ...


@dataclass(frozen=True)
class Planes:
    """The convex solid {x : normals·x <= offsets}; exact."""

    normals: Floats  # (p, 3) outward, unit
    offsets: Floats  # (p,)

    def and_also(self, other: "Planes") -> "Planes":
        """What lies within these planes and within others."""
        return Planes(
            np.vstack([self.normals, other.normals]), np.concatenate([self.offsets, other.offsets])
        )

    def far_apart(self, count: int) -> Ints:
        """Numbers of at most ``count`` planes whose directions are far from one another.

        Farthest-point choice. These planes alone make a larger solid, much the same where a
        smooth one has very many.
        """
        if len(self.normals) <= count:
            return np.arange(len(self.normals))
        chosen = [0]
        nearest = self.normals @ self.normals[0]
        while len(chosen) < count:
            chosen.append(int(np.argmin(nearest)))
            nearest = np.maximum(nearest, self.normals @ self.normals[chosen[-1]])
        return np.array(sorted(set(chosen)))

    def gauge(self, at: Situation, floor: float) -> float:
        """See Container."""
        room = self.offsets - self.normals @ at.translation
        best = np.inf
        for growth in at.growing.growths:
            turned = self.normals @ at.rotation
            fixed = turned @ growth.corners0.T + growth.margin0
            pace = turned @ growth.corners1.T + growth.margin1
            slack = room[:, None] - fixed
            growing = pace > 0.0
            if np.any(growing):
                best = min(best, float((slack[growing] / pace[growing]).min()))
        return best

    def rows(self, at: Situation, band: float) -> Rows:
        """See Container."""
        return joined([self._rows_of(g, at, band * g.pace) for g in at.near(band)])

    def _rows_of(self, growth: Growth, at: Situation, near_mm: float) -> Rows:
        arms = (growth.corners0 + growth.corners1 * at.sigma) @ at.rotation.T
        limits = (self.offsets - self.normals @ at.translation)[:, None] - self.normals @ arms.T
        limits -= growth.margin0 + growth.margin1 * at.sigma
        plane, corner = np.nonzero(limits < near_mm)
        return corner_rows(growth, at, corner, self.normals[plane]), limits[plane, corner]


def joined(parts: list[Rows]) -> Rows:
    """All rows, one below the other, and their limits."""
    return np.vstack([rows for rows, _ in parts]), np.concatenate([limits for _, limits in parts])


def corner_rows(growth: Growth, at: Situation, corner: Ints, normals: Floats) -> Floats:
    """Rows (c, 7 + q) that keep the body's corners of these numbers (c,) from moving along unit
    normals (c, 3), margin and all."""
    arms = (growth.corners0 + growth.corners1 * at.sigma) @ at.rotation.T
    paces = growth.corners1 @ at.rotation.T
    slopes = growth.corner_slopes(at.sigma) @ at.rotation.T
    rows = np.empty((len(corner), 7 + len(slopes)))
    rows[:, 0] = np.einsum("ij,ij->i", normals, paces[corner]) + growth.margin1
    rows[:, 1:4] = normals
    rows[:, 4:7] = cross(arms[corner], normals) / at.mm_per_radian
    rows[:, 7:] = np.einsum("ri,qri->rq", normals, slopes[:, corner])
    return rows


@dataclass(frozen=True)
class Contacts:
    """Features near a growing body: where its gauge is least, how it grows there, its value."""

    index: Ints  # (c,) the triangle's or point's number
    points: Floats  # (c, 3)
    pulls: Floats  # (c, 3)
    gauges: Floats  # (c,)
    more: bool  # whether some were left out


def in_scan(growth: Growth, rotation: Floats, translation: Floats) -> Placed:
    """A growth at a pose."""
    g, h = world_facets(growth.normals, growth.alpha, growth.beta, rotation, translation)
    base = np.ascontiguousarray(growth.corners0 @ rotation.T + translation)
    pace = np.ascontiguousarray(growth.corners1 @ rotation.T)
    return g, h, base, pace, np.array([growth.margin0, growth.margin1])


def _contact_rows(near: Contacts, growth: Growth, at: Situation) -> Rows:
    arms = near.points - at.translation
    rows = np.ones((len(near.gauges), 7))
    rows[:, 1:4] = near.pulls
    rows[:, 4:7] = cross(arms, near.pulls) / at.mm_per_radian
    if growth.slopes is not None:
        steepness = np.linalg.norm(near.pulls, axis=1)[:, None]
        towards = near.pulls / steepness @ at.rotation
        slopes = growth.reach_slopes(towards, arms @ at.rotation, at.sigma)
        rows = np.hstack([rows, steepness * slopes])
    return rows, near.gauges - at.sigma


@dataclass(frozen=True)
class Points:
    """Points of the surface, standing in for it while the search is coarse."""

    points: Floats  # (n, 3)

    def gauge(self, at: Situation, floor: float) -> float:
        """See Container."""
        order = np.arange(len(self.points))
        best = np.inf
        for f in at.growing.growths:
            g, h = world_facets(f.normals, f.alpha, f.beta, at.rotation, at.translation)
            best = point_gauge(self.points, order, g, h, floor, best)
        return float(best)

    def rows(self, at: Situation, band: float) -> Rows:
        """See Container."""
        return joined([_contact_rows(self._near(f, at, band), f, at) for f in at.near(band)])

    def _near(self, f: Growth, at: Situation, band: float) -> Contacts:
        g, h = world_facets(f.normals, f.alpha, f.beta, at.rotation, at.translation)
        size = len(self.points)
        index, gauges, pulls = np.empty(size, np.int64), np.empty(size), np.empty((size, 3))
        n = point_contacts(self.points, g, h, at.sigma + band, index, pulls, gauges)
        return Contacts(index[:n], self.points[index[:n]], pulls[:n], gauges[:n], False)


@dataclass(frozen=True)
class Surface:
    """The whole triangle mesh in a tree of boxes; exact.

    With ``square`` edges the margin about the stone is mitred: quicker, and σ is never too large.
    Triangles may be degenerate: points and lines hold a stone off as well. Where the stone's middle
    lies outside a ``solid``, σ is −∞: from outside, its surface would let the stone grow for ever.
    """

    triangles: Floats  # (n, 3, 3) sorted along a space-filling curve
    boxes: Floats  # (2L-1, 6)
    square: bool = False
    extra_mm: float = 0.0  # kept on top of the growth's own margin
    solid: bool = False  # whether it closes round a solid, in which the stone must lie

    @staticmethod
    def of(mesh: Mesh) -> "Surface":
        """The surface of a solid."""
        tree = box_tree(mesh.vertices, mesh.faces)
        return Surface(tree.triangles, tree.boxes, solid=True)

    @staticmethod
    def over(triangles: Floats, extra_mm: float = 0.0) -> "Surface":
        """The surface of triangles (n, 3, 3), which need not close round anything."""
        tree = box_tree_over(triangles)
        return Surface(tree.triangles, tree.boxes, extra_mm=extra_mm)

    @cached_property
    def large(self) -> tuple[Floats, Floats]:
        """The triangles (n, 3, 3) that more than one corner of a stone can lie over, and their
        unit normals (n, 3); kept, since a dense scan takes long to look through."""
        sides = np.roll(self.triangles, -1, axis=1) - self.triangles
        normals = unit_normals(np.roll(self.triangles, -1, axis=1))
        box = self.boxes[0]
        longest = min(LARGE_MM, LARGE_SHARE * float((box[3:6] - box[:3]).max()))
        large = (greatest(lengths(sides)) > longest) & normals.any(axis=1)
        return self.triangles[large], normals[large]

    def gauge(self, at: Situation, floor: float) -> float:
        """See Container."""
        best = np.inf
        for growth in at.growing.growths:
            placed = self._placed(growth, at)
            best = surface_gauge(self.triangles, self.boxes, placed, floor, best)
        if self.solid and best >= floor and not self.holds(at.translation):
            return -np.inf
        return float(best)

    def rows(self, at: Situation, band: float) -> Rows:
        """See Container."""
        parts = []
        for growth in at.near(band):
            near = self._near(self._placed(growth, at), at.sigma, band)
            parts.append(_contact_rows(near, growth.kept(self.extra_mm), at))
        return joined(parts)

    def _near(self, placed: Placed, sigma: float, band: float) -> Contacts:
        # Where more of the surface is near, one triangle stands for all in its part of the tree: a
        # step is judged exactly, and the next, shorter one looks closer.
        depth = uncrowded_depth(self.boxes, placed, sigma + band, MOST_PLACES)
        return self.contacts(placed, sigma + NEAR * band, sigma + band, LEAF * MOST_PLACES, depth)

    def _placed(self, growth: Growth, at: Situation) -> Placed:
        placed = in_scan(growth.kept(self.extra_mm), at.rotation, at.translation)
        return (*placed[:4], np.zeros(2)) if self.square else placed

    def contacts(
        self, placed: Placed, exact: float, cut: float, most: int, depth: int = EVERY
    ) -> Contacts:
        """The triangles that a growing body reaches before σ = cut, ``most`` of them at most.

        From σ = exact on, the facet that separates a triangle best stands for its gauge. Of the
        triangles under one node of the tree at ``depth`` only the nearest is taken.
        """
        index, gauges = np.empty(most, np.int64), np.empty(most)
        points, pulls = np.empty((most, 3)), np.empty((most, 3))
        count = surface_contacts(
            self.triangles, self.boxes, placed, exact, cut, depth, index, points, pulls, gauges
        )
        more, count = count > most, min(count, most)
        return Contacts(index[:count], points[:count], pulls[:count], gauges[:count], more)

    def windings(self, point: Floats) -> int:
        """How often the closed surface winds round the point."""
        return int(windings(self.triangles, self.boxes, np.asarray(point, float)))

    def holds(self, point: Floats) -> bool:
        """Whether the point lies inside the solid."""
        return self.windings(point) > 0


@dataclass(frozen=True)
class CentreInside:
    """Keeps the stone's middle inside a solid, whatever the stone's size.

    A search uses it beside points or shells that stand in for the solid's surface.
    """

    surface: Surface

    def gauge(self, at: Situation, floor: float) -> float:
        """See Container."""
        return np.inf if self.surface.holds(at.translation) else -np.inf

    def rows(self, at: Situation, band: float) -> Rows:
        """See Container; none."""
        return np.empty((0, 7 + len(at.growing.growths[0].corner_slopes(at.sigma)))), np.empty(0)


def hull_planes(hull: Any) -> Planes:
    """The planes of a scipy ConvexHull, coplanar facets merged."""
    first = np.unique(np.round(hull.equations, 9), axis=0, return_index=True)[1]
    equations = hull.equations[np.sort(first)]
    return Planes(np.ascontiguousarray(equations[:, :3]), np.ascontiguousarray(-equations[:, 3]))


def half_space(plane: Plane) -> Planes:
    """The side of a plane away from its normal, as a container."""
    return Planes(plane.normal[None, :].copy(), np.array([plane.offset]))


__all__ = [
    "CentreInside",
    "Container",
    "Planes",
    "Points",
    "Rows",
    "Surface",
    "half_space",
    "hull_planes",
]
