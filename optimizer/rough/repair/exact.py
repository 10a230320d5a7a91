"""Points in exact whole numbers, so that rounding never decides on which side a point lies.

A float64 coordinate is a whole number over a power of two; with one common power for all, points
are whole numbers. The point where an edge meets a triangle is a quotient of whole numbers: it is
kept as (x, y, z, w) with w > 0, which stands for (x/w, y/w, z/w).
"""

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from optimizer.mesh import Floats

Point = tuple[int, int, int, int]
_ROUNDING = 2.0**-49  # 16 roundings of 1: twice what a determinant of differences may be off by
_TINY = 1e-280  # below it products lose their digits

PlaneOf = tuple[int, int, int, int]  # n·x = c as (n_x, n_y, n_z, c)


class UnclearError(Exception):
    """Two parts of a surface only just touch, so that inside and outside are undecided."""


def common_divisor(points: Floats) -> int:
    """The power of two over which all coordinates of the points (n, 3) are whole numbers."""
    exponents = np.frexp(points[points != 0.0])[1]
    return 1 << max(0, 53 - int(exponents.min(initial=53)))


def whole(point: Floats, divisor: int) -> Point:
    """A point as whole numbers over the common divisor."""
    x, y, z = (n * (divisor // d) for n, d in (float(c).as_integer_ratio() for c in point))
    return x, y, z, 1


def as_floats(points: list[Point], divisor: int) -> Floats:
    """The points in mm, each coordinate rounded once."""
    rows = [[float(Fraction(x, p[3] * divisor)) for x in p[:3]] for p in points]
    return np.array(rows, np.float64).reshape(-1, 3)


def plane_of(a: Point, b: Point, c: Point) -> PlaneOf:
    """The plane through three whole points; its normal is that of the triangle."""
    ux, uy, uz = b[0] - a[0], b[1] - a[1], b[2] - a[2]
    vx, vy, vz = c[0] - a[0], c[1] - a[1], c[2] - a[2]
    n = (uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx)
    return (*n, n[0] * a[0] + n[1] * a[1] + n[2] * a[2])


def height(plane: PlaneOf, p: Point) -> int:
    """Positive above the plane, negative below, zero on it."""
    return plane[0] * p[0] + plane[1] * p[1] + plane[2] * p[2] - plane[3] * p[3]


def between(p: Point, q: Point, at_p: int, at_q: int) -> Point:
    """Where the segment between whole points meets a plane at which they have these heights."""
    if at_p < at_q:
        at_p, at_q = -at_p, -at_q
    x, y, z = (q[k] * at_p - p[k] * at_q for k in range(3))
    return x, y, z, at_p - at_q


def meet(f: PlaneOf, g: PlaneOf, h: PlaneOf) -> Point:
    """The point that three planes share (Cramer's rule)."""
    columns = list(zip(f, g, h, strict=True))
    w = _det(*columns[:3])
    if w == 0:
        raise UnclearError
    x, y, z = (_det(*(columns[3] if k == i else columns[k] for k in range(3))) for i in range(3))
    return (x, y, z, w) if w > 0 else (-x, -y, -z, -w)


def _det(a: tuple[int, ...], b: tuple[int, ...], c: tuple[int, ...]) -> int:
    return (
        a[0] * (b[1] * c[2] - b[2] * c[1])
        - a[1] * (b[0] * c[2] - b[2] * c[0])
        + a[2] * (b[0] * c[1] - b[1] * c[0])
    )


def pierces(p: Point, q: Point, t: tuple[Point, Point, Point], plane: PlaneOf) -> Point | None:
    """Where the open segment pq goes through the inside of triangle ``t``; None where it doesn't.

    Raises UnclearError where it only just touches.
    """
    at_p, at_q = height(plane, p), height(plane, q)
    if (at_p > 0) == (at_q > 0) and at_p and at_q:
        return None
    turns = {_sign(height(plane_of(t[i], t[(i + 1) % 3], p), q)) for i in range(3)}
    if {1, -1} <= turns:
        return None
    if 0 in turns or not at_p or not at_q:
        raise UnclearError
    return between(p, q, at_p, at_q)


def _sign(n: int) -> int:
    return (n > 0) - (n < 0)


def turn(p: Point, q: Point, r: Point, axes: tuple[int, int]) -> int:
    """1 where p, q, r run counter-clockwise as seen along two axes, -1 clockwise, 0 in line."""
    i, j = axes
    return _sign(_det((p[i], p[j], p[3]), (q[i], q[j], q[3]), (r[i], r[j], r[3])))


@dataclass(frozen=True)
class ProjectedPoints:
    """Points projected on two axes: exactly, and rounded for questions that rounding can settle.

    ``rounded`` (n, 2) are in mm; ``most`` is the greatest of their magnitudes.
    """

    points: list[Point]
    axes: tuple[int, int]
    rounded: list[tuple[float, float]]
    most: float

    @staticmethod
    def of(points: list[Point], axes: tuple[int, int], divisor: int) -> "ProjectedPoints":
        """``points`` are whole numbers over ``divisor``; each coordinate is rounded once."""
        i, j = axes
        rounded = [(p[i] / (p[3] * divisor), p[j] / (p[3] * divisor)) for p in points]
        return ProjectedPoints(points, axes, rounded, max(max(abs(x), abs(y)) for x, y in rounded))

    def turn(self, a: int, b: int, c: int) -> int:
        """1 where points a, b, c run counter-clockwise, -1 clockwise, 0 in line.

        By floats where their error can't matter (after Shewchuk 1997, Adaptive precision
        floating-point arithmetic and fast robust geometric predicates), else exactly.
        """
        (ax, ay), (bx, by), (cx, cy) = self.rounded[a], self.rounded[b], self.rounded[c]
        ux, uy, vx, vy = bx - ax, by - ay, cx - ax, cy - ay
        doubled = ux * vy - uy * vx
        # A difference is off by no more than 4 roundings of ``most``.
        off = (
            _ROUNDING * self.most * (abs(ux) + abs(uy) + abs(vx) + abs(vy) + self.most * _ROUNDING)
        )
        if abs(doubled) > off > _TINY:
            return 1 if doubled > 0.0 else -1
        return turn(self.points[a], self.points[b], self.points[c], self.axes)

    def apart(self, a: int, b: int, c: int, d: int) -> bool:
        """Whether the boxes about segments ab and cd are apart, for rounding keeps the order."""
        (ax, ay), (bx, by), (cx, cy), (dx, dy) = (self.rounded[k] for k in (a, b, c, d))
        return (
            max(ax, bx) < min(cx, dx)
            or max(cx, dx) < min(ax, bx)
            or max(ay, by) < min(cy, dy)
            or max(cy, dy) < min(ay, by)
        )


def flat_axes(plane: PlaneOf) -> tuple[int, int]:
    """The two axes along which a triangle in the plane is seen counter-clockwise and widest."""
    k = max(range(3), key=lambda i: abs(plane[i]))
    i, j = (k + 1) % 3, (k + 2) % 3
    return (i, j) if plane[k] > 0 else (j, i)
