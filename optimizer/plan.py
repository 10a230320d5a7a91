"""The whole job as one readable function: rough + order -> Plan."""

from dataclasses import replace

from optimizer.audit import audit
from optimizer.errors import InputError, nearest
from optimizer.offcuts.sizes import with_sizes
from optimizer.offers.crystal import CLEAVAGE_DEG, with_cleavage_clearance
from optimizer.order import Order
from optimizer.placement.search import Watch
from optimizer.plan_model import Plan
from optimizer.planning.clock import Clock
from optimizer.planning.one_stone import plan_one
from optimizer.planning.run import Run
from optimizer.planning.several_stones import plan_several
from optimizer.rough.flats.find import with_flats
from optimizer.rough.model import Rough
from optimizer.rough.scale.weight_words import refuse_wrong_weight
from optimizer.running.memory import refuse_too_many
from optimizer.wording.plain_number import plain

PLANNED_WITH = ("quick", "normal", "thorough")


def make_plan(
    rough: Rough,
    order: Order,
    *,
    seed: int = 0,
    effort: str = "normal",
    prove: bool = False,
    gap: float = 1.0,
    watch: Watch | None = None,
) -> Plan:
    """Plan the heaviest stone that meets the order, with its cuts and marks, and audit it.

    ``effort`` is a budget of work: "quick", "normal" or "thorough". With ``prove`` the bound is
    tightened until it is within ``gap`` percent of the weight, or as far as it can be. If ``watch``
    stops the search, the plan holds the best stones so far and names what it lacks. Raises
    KeyboardInterrupt where the stop came before there was a stone, InputError where rough and order
    don't fit together or the piece's weight contradicts its scan, AuditError where the independent
    check refuses the result.
    """
    if effort not in PLANNED_WITH:
        raise InputError(f'the effort "{effort}" is not known; {nearest(effort, PLANNED_WITH)}')
    refuse_too_many(len(rough.mesh.faces), rough.scan, plan=True)
    refuse_wrong_weight(rough)
    run = Run(seed, effort, prove, gap, watch or Watch(), Clock())
    rough = with_flats(rough)
    asked, order = order, with_cleavage_clearance(rough, order)
    plan = plan_several(rough, order, run) if order.several_asked else plan_one(rough, order, run)
    assumed = _usual_limit(order, asked)
    plan = replace(plan, warnings=tuple(dict.fromkeys((*rough.warnings, *assumed, *plan.warnings))))
    plan = with_sizes(plan, run.watch)
    run.clock.lap("offcuts")
    plan = replace(plan, audit=audit(plan))
    if plan.stones:  # the plan is complete except for what its warnings name
        plan = replace(plan, interrupted=run.watch.stop())
    run.clock.lap("audit")
    return replace(plan, timing_s=run.clock.seconds())


def _usual_limit(order: Order, asked: Order) -> tuple[str, ...]:
    """A note on the usual limit for cleavage, where the order set none."""
    if order is asked:
        return ()
    return (
        f"No facet lies within {plain(CLEAVAGE_DEG)}° of a cleavage plane, as is usual: "
        "cleavage_clear_deg in the order's [direction] sets another limit, 0 none.",
    )
