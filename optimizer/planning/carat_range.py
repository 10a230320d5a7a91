"""Between which weights the finished stone will lie: what scan, scale and density leave open."""

import numpy as np

from optimizer.design.model import Body
from optimizer.rough.model import Rough
from optimizer.rough.scale.weighing import sg_span
from optimizer.trade.materials import Range


def carat_range(rough: Rough, body: Body, width: float, most_width: float) -> Range:
    """(least, greatest) carats of the stone planned at ``width`` mm.

    The least is the planned size, which the clearance keeps whole however the scan is off, at the
    least specific gravity that species and weighing allow. The greatest is the size that a scan
    too small by its whole error could have hidden, at the greatest specific gravity; no more than
    ``most_width``, the order's. Both at once are rare: a wide range, on the safe side.
    """
    low, high = sg_span(rough)
    largest = max(width, min(width + growth_mm(body, width, rough.scan_error_mm), most_width))
    return body.volume_at(width) * low / 200.0, body.volume_at(largest) * high / 200.0


def growth_mm(body: Body, width: float, outwards_mm: float) -> float:
    """How much wider than ``width`` a stone can at most be where the surface of a convex rough, in
    which none is wider, lies further out by ``outwards_mm``.

    Let S be the body of ``width`` and S' a wider one. As soon as S' holds S and a rim of e all
    round it, S' less such a rim still holds S, and no such S' lies in the rough moved outwards by
    e. The least S' of that kind is a linear program over its width s' and a shift t:
    n·t + e <= (s' − s)·d for each facet of normal n and distance d.
    """
    from scipy.optimize import linprog

    # While the band keeps its thickness in mm, its facets above and below move out slower.
    slow = body.girdle_share / 2.0 if body.extra_girdle_mm(width) > 0.0 else 0.0
    slopes = body.offsets - slow * np.abs(body.normals[:, 2])
    least = linprog(
        [1.0, 0.0, 0.0, 0.0],
        A_ub=np.column_stack([-slopes, body.normals]),
        b_ub=np.full(len(slopes), -outwards_mm),
        bounds=[(0.0, None), *[(None, None)] * 3],
    )
    return float(least.fun)
