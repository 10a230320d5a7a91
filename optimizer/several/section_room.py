"""The sections of a convex piece in parallel planes, with what stones and saw leave of them."""

from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.containers import Planes
from optimizer.several.dilated import corners_within

FEWEST_SIDES = 3
LEVEL = 1e-9  # of the cosine: a plane so nearly square to the direction has no line in a section
INNER_MM = 1e-9  # a section whose inscribed circle is smaller is none


@dataclass(frozen=True)
class SectionRoom:
    """Sections square to ``direction`` of the room for stones, {x : normals·x <= offsets}, with a
    ``clearance`` in mm beyond it. The room lies between ``floor`` and ``floor`` + ``height``."""

    room: Planes
    clearance: float
    direction: Floats  # (3,)
    floor: float
    height: float

    @staticmethod
    def thinnest(room: Planes, clearance: float) -> "SectionRoom | None":
        """Across the direction in which the room reaches least far, among its planes' normals;
        None where there is no room."""
        corners = corners_within(room)
        if corners is None:
            return None
        along = room.normals @ corners.T
        thin = int(np.argmin(np.ptp(along, axis=1)))
        floor, height = float(along[thin].min()), float(np.ptp(along[thin]))
        return SectionRoom(room, clearance, room.normals[thin], floor, height)

    def polygons(self, height: float, overhang: float) -> tuple[tuple[int, float], ...]:
        """Polygons about the section so high above the floor, less ``overhang`` at upright walls:
        sides and area in mm² of each, the section itself first. None where there is no section."""
        corners = _corners(self._lines(height, overhang))
        return () if corners is None else polygons_about(corners)

    def _lines(self, height: float, overhang: float) -> Floats:
        """The section's half-planes, (l, 3): unit normals and offsets in the plane."""
        up = self.room.normals @ self.direction
        across = np.sqrt(np.maximum(1.0 - up * up, 0.0))
        side = across > LEVEL
        up, across, normals = up[side], across[side], self.room.normals[side]
        inwards = overhang - np.abs(up / across) * (self.height + 2.0 * self.clearance)
        offsets = self.room.offsets[side] + self.clearance - (self.floor + height) * up
        offsets = offsets / across - np.maximum(inwards, 0.0)
        e1, e2 = _frame(self.direction)
        return np.column_stack([normals @ e1 / across, normals @ e2 / across, offsets])


def _frame(direction: Floats) -> tuple[Floats, Floats]:
    """Two unit vectors square to a direction and to one another."""
    aside = np.eye(3)[int(np.argmin(np.abs(direction)))]
    one = np.cross(direction, aside)
    one /= np.linalg.norm(one)
    return one, np.cross(direction, one)


def _corners(lines: Floats) -> Floats | None:
    """The corners (k, 2) of {y : lines[:, :2]·y <= lines[:, 2]}, counter-clockwise; None where it
    is empty."""
    from scipy.optimize import linprog
    from scipy.spatial import ConvexHull, HalfspaceIntersection

    deepest = linprog(
        [0.0, 0.0, -1.0],
        A_ub=np.column_stack([lines[:, :2], np.ones(len(lines))]),
        b_ub=lines[:, 2],
        bounds=[(None, None)] * 2 + [(0.0, None)],
    )
    if deepest.status != 0 or deepest.x[2] <= INNER_MM:
        return None
    halves = np.column_stack([lines[:, :2], -lines[:, 2]])
    points = HalfspaceIntersection(halves, deepest.x[:2]).intersections
    return np.asarray(points[ConvexHull(points).vertices])


def polygons_about(corners: Floats) -> tuple[tuple[int, float], ...]:
    """Sides and area of a convex polygon (k, 2), counter-clockwise, and of polygons about it with
    ever fewer sides: each time the side is left out that adds the least area."""
    x, y = corners.T
    area = 0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))
    found = [(len(corners), area)]
    while len(corners) > FEWEST_SIDES:
        sides = np.roll(corners, -1, axis=0) - corners
        before, after = np.roll(sides, 1, axis=0), np.roll(sides, -1, axis=0)
        one, two, both = (
            _cross(*pair) for pair in ((before, sides), (sides, after), (before, after))
        )
        with np.errstate(divide="ignore", invalid="ignore"):
            added = np.where(both > 0.0, 0.5 * one * two / both, np.inf)
        k = int(np.argmin(added))
        if not np.isfinite(added[k]):
            break
        area += float(added[k])
        # The two sides next to the one left out meet beyond it.
        meeting = corners[k] + before[k] * two[k] / both[k]
        corners = np.delete(corners, (k + 1) % len(corners), axis=0)
        corners[k if k < len(corners) else k - 1] = meeting
        found.append((len(corners), area))
    return tuple(found)


def _cross(one: Floats, other: Floats) -> Floats:
    return np.asarray(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0])
