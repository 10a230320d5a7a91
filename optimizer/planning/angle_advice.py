"""Part of a plan: whether other angles of a stone's design return more light, and at what price."""

from dataclasses import replace

from optimizer.offers.angle_advice import angle_advice
from optimizer.offers.freedom import MAINS
from optimizer.plan_model import Plan, Stone

MARKED = 0.03  # more light return than this is told: an eye tells about 0.02; a choice of our own


def with_angle_advice(plan: Plan) -> Plan:
    """``plan`` with the advice on each stone whose angles others outshine markedly."""
    if plan.rough.material.ri is None:
        return plan
    return replace(plan, stones=tuple(_advised(plan, stone) for stone in plan.stones))


def _advised(plan: Plan, stone: Stone) -> Stone:
    if any(name not in stone.design.parameters for name in MAINS):
        return stone
    order = replace(
        plan.asked_of(stone),
        parameters={k: v for k, v in stone.parameters.items() if k != "girdle"},
    )
    advice = angle_advice(stone.design, plan.rough.material, order)
    if advice.best.light_return - advice.usual.light_return < MARKED:
        return stone
    return replace(stone, brighter=advice)
