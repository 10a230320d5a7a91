"""How far apart stones lie: the distance between the convex hulls of their corners.

Exact to rounding, and shown from both sides: two points of the hulls are that far apart, and two
parallel planes that far apart have all of one set on one side and all of the other beyond.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Floats, Ints
from optimizer.several.kernels.apart import hulls_apart, pairs_too_near

Bools = NDArray[np.bool_]
Sides = NDArray[np.int8]

ROUNDING_MM = 1e-9  # stones this much nearer than asked still count as far enough apart


@dataclass(frozen=True)
class Apart:
    """The distance between two convex hulls: ``mm`` between ``on_first`` and ``on_second`` (3,),
    or 0 where the hulls meet, and the points say nothing; ``gap_mm`` between two planes square to
    the unit ``way`` (3,) from the first to the second, negative where no planes part them."""

    mm: float
    gap_mm: float
    on_first: Floats
    on_second: Floats
    way: Floats


@dataclass(frozen=True)
class Corners:
    """The corners of k stones in one array: ``points`` (n, 3) mm, those of stone i from
    ``spans[i, 0]`` to ``spans[i, 1]``, all within ``radii[i]`` of ``centres[i]``."""

    points: Floats
    spans: Ints
    centres: Floats
    radii: Floats

    @staticmethod
    def of(stones: Sequence[Floats]) -> "Corners":
        """``stones``: the corners (n_i, 3) of each, at least one."""
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

    def apart(
        self,
        side: Sides,
        enough_mm: float = np.inf,
        little_mm: float = 0.0,
        begin: Floats | None = None,
    ) -> Apart:
        """Between the hull of all stones whose ``side`` (k,) is 1 and that of all with 2.

        It ends early once the gap is ``enough_mm``, or the distance ``little_mm`` or less, and
        begins along ``begin`` (3,) where that is given.
        """
        out = np.zeros(11)
        if begin is not None:
            out[8:] = begin
        hulls_apart(
            self.points, self.spans, self.centres, self.radii, side, enough_mm, little_mm, out
        )
        return Apart(float(out[0]), float(out[1]), out[2:5], out[5:8], out[8:])


def apart(first: Floats, second: Floats) -> Apart:
    """Between the convex hulls of two sets of points, (n, 3) and (m, 3)."""
    return Corners.of((first, second)).apart(np.array([1, 2], np.int8))


def too_near(stones: Corners, mm: float) -> Bools:
    """Which pairs (k, k) of stones lie less than ``mm`` apart, give or take rounding; no stone is
    too near itself."""
    near = np.zeros((len(stones.spans), len(stones.spans)), np.bool_)
    pairs_too_near(
        stones.points, stones.spans, stones.centres, stones.radii, mm - ROUNDING_MM, near
    )
    return near
