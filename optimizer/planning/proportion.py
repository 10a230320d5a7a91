"""What a length-to-width that the plan holds at the design's usual value would bring if free."""

from dataclasses import replace

from optimizer.offers.freedom import PROPORTION
from optimizer.offers.heaviest import quick_best
from optimizer.offers.placement_cache import PlacementCache
from optimizer.plan_model import FreedProportion, Plan, Stone
from optimizer.planning.finished import carat_of


def with_freed_proportion(plan: Plan, cache: PlacementCache) -> Plan:
    """``plan`` with what a quick search finds for its one stone's design where the length-to-width
    is free over the design's whole range; unchanged where it isn't held at the usual value."""
    (stone,) = plan.stones
    if not plan.holds_usual_proportion(stone):
        return plan
    return replace(plan, stones=(replace(stone, freed=_freed(plan, stone, cache)),))


def _freed(plan: Plan, stone: Stone, cache: PlacementCache) -> FreedProportion:
    order, known = plan.order, stone.design.parameters[PROPORTION]
    own = [path for path, name in zip(order.designs, order.design_names, strict=True)
           if name == stone.design.name]  # fmt: skip
    wider = replace(
        order,
        designs=tuple(own) or (stone.design.name,),
        parameters={**order.parameters, PROPORTION: (known.low, known.high)},
    )
    best = quick_best(plan.rough, wider, cache)
    if best is None:
        return FreedProportion(known.low, known.high, None, None)
    value = best.offer.parameters[PROPORTION]
    return FreedProportion(known.low, known.high, value, carat_of(plan.rough, best.placement))
