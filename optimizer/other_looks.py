"""What else could be had where an order asks for a look, each a whole plan of its own."""

from dataclasses import replace

from optimizer.alternatives import differs, wishes
from optimizer.audit import audit
from optimizer.errors import AuditError
from optimizer.finished import carat_of, stone_of, with_stones, without_a_stone
from optimizer.heaviest import Told, quick_best
from optimizer.looks import with_looks
from optimizer.order import Order
from optimizer.placement.ground import Ground
from optimizer.placement.search import Watch
from optimizer.plan_model import Alternative, Plan
from optimizer.sawing import saw_plan
from optimizer.wanted_look import Aim, look_about


def with_other_looks(plan: Plan, ground: Ground, watch: Watch) -> Plan:
    """``plan`` with its alternatives, each found by a quick search, sawn and audited as it is."""
    rough, look, stone = plan.rough, plan.order.look, plan.stones[0]
    assert look is not None
    aim, found, failed = Aim.of(rough, look), [], []
    planned = aim.figures(stone.placement)
    for kind, order in wishes(plan.order, planned):
        if watch.stop():
            break
        best = quick_best(rough, order, ground, plan.seed, watch)
        if best is None or (kind == "heavier" and best[1].volume_mm3 <= stone.volume_mm3):
            continue
        told = differs(kind, carat_of(rough, best[1]), aim.figures(best[1]), stone.carat, planned)
        other = _sawn(plan, order, best, watch)
        try:
            found.append(Alternative(kind, told, replace(other, audit=audit(other))))
        except AuditError as error:
            failed.append(f"A {kind} alternative failed its check and is left out: {error}")
    return replace(plan, alternatives=tuple(found), warnings=(*plan.warnings, *failed))


def _sawn(plan: Plan, order: Order, best: Told, watch: Watch) -> Plan:
    rough = plan.rough
    sawing, warnings = saw_plan(rough, best[1], order.workshop, watch.stop)
    other = without_a_stone(rough, order, plan.seed, "quick", None)
    other = with_stones(other, (stone_of(rough, *best, None),), sawing, warnings, watch)
    other = with_looks(other, brief=True)
    return replace(other, look_about=look_about(rough, plan.order, best[1]))
