"""Points in whole numbers, so that on which side one lies is never a matter of rounding.

A coordinate read as float64 is a whole number over a power of two; over one such power for all,
points are whole numbers. Where an edge meets a triangle is a quotient of whole numbers: such a
point is kept as (x, y, z, w) with w > 0 and stands for (x/w, y/w, z/w).
"""

from fractions import Fraction

import numpy as np

from optimizer.mesh import Floats

Point = tuple[int, int, int, int]
PlaneOf = tuple[int, int, int, int]  # n·x = c as (n_x, n_y, n_z, c)


class UnclearError(Exception):
    """Two parts of a surface only just touch: which side is which can't be told."""


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


def flat_axes(plane: PlaneOf) -> tuple[int, int]:
    """The two axes along which a triangle in the plane is seen counter-clockwise and widest."""
    k = max(range(3), key=lambda i: abs(plane[i]))
    i, j = (k + 1) % 3, (k + 2) % 3
    return (i, j) if plane[k] > 0 else (j, i)
