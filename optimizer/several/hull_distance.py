"""The distance between stones: that of the convex hulls of their corners.

Exact to rounding, and certified from both sides: two points of the hulls are that far apart, and
two parallel planes that far apart have one hull on either side.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Floats
from optimizer.several.kernels.hull_distance import Corners, mark_conflicts
from optimizer.several.kernels.hull_distance import hull_distance as fill_hull_distance

Bools = NDArray[np.bool_]
Sides = NDArray[np.int8]

ROUNDING_MM = 1e-9  # stones this much nearer than asked still count as far enough apart


@dataclass(frozen=True)
class HullDistance:
    """The distance between two convex hulls.

    ``mm`` is the distance between the points ``on_first`` and ``on_second`` (3,); where the hulls
    meet it is 0, and the points have no meaning. ``gap_mm`` is the distance between two planes
    square to the unit ``way`` (3,) from the first hull to the second, negative where no planes
    separate the hulls.
    """

    mm: float
    gap_mm: float
    on_first: Floats
    on_second: Floats
    way: Floats


def corners_of(stones: Sequence[Floats]) -> Corners:
    """The corners (n_i, 3) of each stone, at least one stone, in one array."""
    ends = np.cumsum([len(one) for one in stones])
    centres = np.array([one.mean(axis=0) for one in stones])
    radii = [
        np.linalg.norm(one - middle, axis=1).max()
        for one, middle in zip(stones, centres, strict=True)
    ]
    return Corners(
        np.ascontiguousarray(np.vstack(stones), np.float64),
        np.column_stack([np.concatenate([[0], ends[:-1]]), ends]).astype(np.int64),
        centres,
        np.array(radii) * (1.0 + 1e-12),
    )


def distance_between(
    corners: Corners,
    side: Sides,
    enough_mm: float = np.inf,
    little_mm: float = 0.0,
    begin: Floats | None = None,
) -> HullDistance:
    """The distance between the hull of all stones whose ``side`` (k,) is 1 and the hull of all
    with 2.

    The search begins along ``begin`` (3,) where that is given. It ends early once the gap is
    ``enough_mm``, or the distance ``little_mm`` or less.
    """
    out = np.zeros(11)
    if begin is not None:
        out[8:] = begin
    fill_hull_distance(corners, side, enough_mm, little_mm, out)
    return HullDistance(float(out[0]), float(out[1]), out[2:5], out[5:8], out[8:])


def hull_distance(first: Floats, second: Floats) -> HullDistance:
    """The distance between the convex hulls of two sets of points, (n, 3) and (m, 3)."""
    return distance_between(corners_of((first, second)), np.array([1, 2], np.int8))


def conflicts(corners: Corners, mm: float) -> Bools:
    """The conflict graph: which pairs (k, k) of stones lie less than ``mm`` apart, but for
    rounding. No stone conflicts with itself."""
    near = np.zeros((len(corners.spans), len(corners.spans)), np.bool_)
    mark_conflicts(corners, mm - ROUNDING_MM, near)
    return near
