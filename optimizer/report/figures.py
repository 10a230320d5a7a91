"""Figures of a whole plan that plan.json, page and terminal share."""

import math

from optimizer.offers.bound import Bound
from optimizer.plan_model import Plan
from optimizer.rough.model import Rough


def total_carat(plan: Plan) -> float:
    """Carats of all finished stones."""
    return math.fsum(stone.carat for stone in plan.stones)


def rough_carat(rough: Rough) -> float:
    """The rough's weight on the balance; where it was not weighed, by its volume."""
    return rough.carat if rough.weighed_ct is None else rough.weighed_ct


def yield_percent(plan: Plan) -> float:
    """Finished carats in a hundred carats of rough, as weighed where it was weighed."""
    return 100.0 * total_carat(plan) / rough_carat(plan.rough)


def yield_by_volume_percent(plan: Plan) -> float:
    """Finished carats in a hundred carats of rough by its volume, which plan.json tells."""
    return 100.0 * total_carat(plan) / plan.rough.carat


def gap_percent(bound: Bound, carat: float) -> float | None:
    """How far the bound lies above the weight, in percent of the weight; None without a stone."""
    return 100.0 * (bound.carat / carat - 1.0) if carat > 0.0 else None
