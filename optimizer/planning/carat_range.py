"""The range of weights of the finished stone, for the errors of scan, scale and density."""

import numpy as np

from optimizer.design.model import Body
from optimizer.rough.model import Rough
from optimizer.rough.scale.weighing import sg_span
from optimizer.trade.materials import Range

SAME = 1e-9  # relative, of two widths
CUT_TO_MM = 0.05  # how closely hands cut a stone to a width; common practice, no source


def carat_range(rough: Rough, body: Body, width: float, ordered: Range) -> Range:
    """(least, greatest) carats of the stone planned at ``width`` mm, where the order allows the
    range ``ordered`` of widths in mm.

    A stone that is ``cut_to_size`` is cut to within ``CUT_TO_MM`` of its width. Otherwise the least
    is the planned size at the least specific gravity that species and weighing allow: the clearance
    keeps the stone whole whatever the scan's error. The greatest is the size that would fit if the
    scan were too small by its whole error, at the greatest specific gravity, but no wider than
    ordered. Both errors at once are rare, so the range is wide, on the safe side.
    """
    low, high = sg_span(rough)
    if cut_to_size(width, ordered):
        smallest, largest = max(width - CUT_TO_MM, 0.0), width + CUT_TO_MM
    else:
        smallest, largest = width, width + growth_mm(body, width, rough.scan_error_mm)
        largest = max(width, min(largest, ordered[1]))
    return body.volume_at(smallest) * low / 200.0, body.volume_at(largest) * high / 200.0


def cut_to_size(width: float, ordered: Range) -> bool:
    """Whether a stone of ``width`` mm is as wide as the order allows: then it is cut to that width,
    however much more room there is."""
    return width >= ordered[1] * (1.0 - SAME)


def growth_mm(body: Body, width: float, outwards_mm: float) -> float:
    """How much wider a stone can at most become if the surface of a convex rough, in which no stone
    is wider than ``width``, moves outwards by ``outwards_mm``.

    Let S be the body of ``width``, e the distance and S' a wider body. If S' contains S with a rim
    of e all around, then S' does not fit into the rough moved outwards by e: S' without that rim
    would fit into the rough itself, and would still contain S. The least such S' is a linear
    program over its width s' and a shift t: n·t + e <= (s' − s)·d for each facet of normal n and
    distance d.
    """
    from scipy.optimize import linprog

    # While the girdle band has a fixed thickness in mm, crown and pavilion move out more slowly.
    slow = body.girdle_share / 2.0 if body.extra_girdle_mm(width) > 0.0 else 0.0
    slopes = body.offsets - slow * np.abs(body.normals[:, 2])
    least = linprog(
        [1.0, 0.0, 0.0, 0.0],
        A_ub=np.column_stack([-slopes, body.normals]),
        b_ub=np.full(len(slopes), -outwards_mm),
        bounds=[(0.0, None), *[(None, None)] * 3],
    )
    return float(least.fun)
