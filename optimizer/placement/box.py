"""A box of parameters as one body that lies in every body of the box, whatever the size.

The bodies are compared at equal volume: B(p) is the design's body at width 1, its least girdle in
mm left out, scaled to volume 1. A stone of volume w³ or more with parameters p holds w·B(p), and
with it w·C for any C inside every B(p) of the box: what bounds w for C bounds every stone of the
box. At equal volume the bodies of a box differ least: a steeper stone is narrower and deeper.

C is what the facets of all corners of the box leave, each moved in by e. For a point z, the
function f(p) = a(p)·z − b(p) of one facet lies below the greatest of its values at the box's
corners plus Σ_j w_j²/8·max|∂²f/∂p_j²| (linear interpolation, one parameter after the other); so
f <= 0 over the box if it is <= −e at the corners. w_j²/8·∂² is half the second difference over the
box's width; e takes the whole one, through the middle of the box and at the worst point z of a
body that holds C, as there is no closed form of b(p): a safety of two, which also holds where
b(p) has a kink. Tests sample it. The same rule bounds volumes over a box.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np

from optimizer.design.family import Family
from optimizer.design.model import Body
from optimizer.mesh import Floats

APART = 1e-3  # of the edge of an equal cube: of corners nearer than this one is left out
ROUNDING = 1e-9
SAFETY = 1.5  # on how far the box's bodies reach beyond their common core
Bodies = dict[tuple[float, ...], Body]


@dataclass(frozen=True)
class Box:
    """Free parameters between ``low`` and ``high`` (q,); bodies already cut are kept in
    ``bodies``, for all boxes of a family."""

    family: Family
    low: Floats
    high: Floats
    bodies: Bodies

    @staticmethod
    def whole(family: Family) -> "Box":
        """The ranges of a family."""
        return Box(family, family.low, family.high, {})

    def halves(self) -> "tuple[Box, Box]":
        """Cut in two across the parameter over which the corners move most."""
        j = int(np.argmax(self.family.travel * (self.high - self.low)))
        middle = 0.5 * (self.low[j] + self.high[j])
        below, above = self.high.copy(), self.low.copy()
        below[j] = above[j] = middle
        lower = Box(self.family, self.low, below, self.bodies)
        return lower, Box(self.family, above, self.high, self.bodies)

    def body(self, values: Floats) -> Body:
        """The body at these values. Raises InputError where it loses a facet."""
        key = tuple(float(v) for v in values)
        if key not in self.bodies:
            self.bodies[key] = self.family.exact(values)
        return self.bodies[key]

    @cached_property
    def corners(self) -> list[Body]:
        """The bodies at the box's corners."""
        ends = zip(self.low, self.high, strict=True)
        return [self.body(np.array(values)) for values in product(*ends)]

    @cached_property
    def lines(self) -> list[tuple[Body, Body, Body]]:
        """For each parameter the bodies through the middle of the box: least, middle, greatest."""
        middle = 0.5 * (self.low + self.high)
        found = []
        for j in range(len(middle)):
            ends = middle.copy(), middle.copy()
            ends[0][j], ends[1][j] = self.low[j], self.high[j]
            found.append((self.body(ends[0]), self.body(middle), self.body(ends[1])))
        return found

    def heights(self, body: Body) -> Floats:
        """How far every corner of the box's first body, which holds the common one, lies over each
        facet of ``body`` at volume 1, (m·k,)."""
        first, planes = self.corners[0], _planes(body).reshape(-1, 4)
        points = first.vertices * _scale(first)
        return np.asarray(planes[:, :3] @ points.T - planes[:, 3:]).ravel()

    @property
    def every(self) -> list[Body]:
        """All bodies that were cut for this box."""
        return [*self.corners, *(body for line in self.lines for body in line)]

    def bend(self, measure: Callable[[Body], Floats]) -> Floats:
        """How far a measure (n,) may leave its values at the corners, (n,)."""
        bends = [np.abs(measure(a) - 2.0 * measure(m) + measure(b)) for a, m, b in self.lines]
        return np.asarray(np.sum(bends, axis=0))

    def most(self, measure: Callable[[Body], float]) -> float:
        """No body of the box has more."""
        bend = float(self.bend(lambda body: np.array([measure(body)]))[0])
        return max(measure(body) for body in self.every) + bend

    def least(self, measure: Callable[[Body], float]) -> float:
        """No body of the box has less."""
        return -self.most(lambda body: -measure(body))

    @cached_property
    def group(self) -> Floats:
        """Rotations that every body of the box has, (q, 3, 3)."""
        return min((body.rotations for body in self.every), key=len)

    @cached_property
    def core(self) -> "Core":
        """The body common to all of the box."""
        return Core.of(self)


@dataclass(frozen=True)
class Core:
    """A convex body inside every body of a box at volume 1."""

    corners: Floats  # (k, 3)
    reach: float  # no body of the box reaches further beyond it in any direction
    turn: float  # radians: no facet of the box is turned further from that of the first corner

    @staticmethod
    def of(box: Box) -> "Core":
        """See the module."""
        from scipy.spatial import HalfspaceIntersection

        inwards = box.bend(box.heights) + ROUNDING
        planes = [_planes(body).reshape(-1, 4) for body in box.corners]
        normals = np.concatenate([p[:, :3] for p in planes])
        offsets = np.concatenate(
            [p[:, 3] - inwards.reshape(len(p), -1).max(axis=1) for p in planes]
        )
        halves = np.column_stack([normals, -offsets])
        corners = HalfspaceIntersection(halves, np.zeros(3)).intersections
        fill = max(
            float((body.vertices * _scale(body) @ normals.T / offsets).max()) for body in box.every
        )
        radius = max(float(np.linalg.norm(b.vertices, axis=1).max()) * _scale(b) for b in box.every)
        reach = SAFETY * (fill - 1.0) * radius + APART
        first = box.corners[0].normals
        apart = [np.linalg.norm(body.normals - first, axis=1).max() for body in box.every]
        turn = SAFETY * 2.0 * float(np.arcsin(min(max(apart) / 2.0, 1.0)))
        return Core(_thinned(corners), reach, turn)


def _scale(body: Body) -> float:
    """From width 1 to volume 1."""
    return 1.0 / body.cube_edge


def _planes(body: Body) -> Floats:
    """Normals and offsets at volume 1, one after the other, (4·m,)."""
    return np.column_stack([body.normals, body.offsets * _scale(body)]).ravel()


def _thinned(points: Floats) -> Floats:
    """Points no two of which are nearer than APART; the farthest from the origin stay."""
    points = points[np.argsort(-np.linalg.norm(points, axis=1), kind="stable")]
    kept: list[int] = []
    for i, point in enumerate(points):
        if not kept or np.linalg.norm(points[kept] - point, axis=1).min() > APART:
            kept.append(i)
    return np.ascontiguousarray(points[kept])
