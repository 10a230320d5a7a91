"""Whether other angles of a stone's design return more light, and at what cost in weight."""

from dataclasses import replace

from optimizer.offers.angle_advice import angle_advice
from optimizer.offers.freedom import MAINS
from optimizer.plan_model import Plan, Stone

NOTICEABLE_GAIN = (
    0.03  # a smaller gain in light return is not mentioned: an eye sees 0.02; our own choice
)


def with_angle_advice(plan: Plan) -> Plan:
    """``plan`` with advice on each stone for which other angles return markedly more light."""
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
    if advice.best.light_return - advice.usual.light_return < NOTICEABLE_GAIN:
        return stone
    return replace(stone, brighter=advice)
