"""The plan for the one heaviest stone of a piece: search, bound, saw plan, look."""

from dataclasses import replace

from optimizer.offers.allowed import allowed_offers
from optimizer.offers.bound import Bound, weight_bound
from optimizer.offers.heaviest import best_of
from optimizer.offers.placement_cache import PlacedOffer, PlacementCache
from optimizer.order import Order
from optimizer.placement.ground import Ground
from optimizer.placement.search import Watch
from optimizer.plan_model import Plan
from optimizer.planning.angle_advice import with_angle_advice
from optimizer.planning.design_notes import notes_on_designs
from optimizer.planning.finished import stone_of, with_constraints, with_stones, without_a_stone
from optimizer.planning.look_doubts import with_look_doubts
from optimizer.planning.looks import with_looks, with_looks_about
from optimizer.planning.other_looks import with_other_looks
from optimizer.planning.proportion import with_freed_proportion
from optimizer.planning.ruled_out import with_reasons
from optimizer.planning.run import Run
from optimizer.planning.volume_bounds import volume_bounds_of
from optimizer.rough.model import Rough
from optimizer.sawing import saw_plan


def plan_one(rough: Rough, order: Order, run: Run) -> Plan:
    """The plan of the heaviest stone that meets the order, not audited yet.

    Raises KeyboardInterrupt where a stop came before there was a stone, InputError where rough
    and order don't fit together.
    """
    watch, clock = run.watch, run.clock
    allowed, left_out = allowed_offers(rough, order)
    ground = Ground.of(rough.mesh, watch.stop)
    clock.lap("preparation")
    cache = PlacementCache(ground, run.seed, watch)
    best = best_of(rough, order, cache, allowed, run.effort)
    leave_without_a_stone(best, watch)
    clock.lap("search")
    volume_bounds = volume_bounds_of(ground, allowed, best, run)
    clock.lap("bound")
    counted = {"hollows": run.prove and not watch.stop(), "convex": ground.convex}
    bound = _ignoring_look(order, weight_bound(rough, allowed, volume_bounds, **counted))
    plan = without_a_stone(rough, order, run.seed, run.effort, bound)
    plan = replace(plan, warnings=left_out)
    plan = replace(plan, notes=notes_on_designs(plan, cache, allowed, best))
    if best is None:
        plan = with_reasons(plan, cache, allowed, volume_bounds)
        leave_without_a_stone(best, watch)
        clock.lap("what rules it out")
        return plan
    chosen = next(k for k, offer in enumerate(allowed) if offer.design is best.offer.design)
    own = weight_bound(rough, [allowed[chosen]], [volume_bounds[chosen]], **counted)
    return _with_stone(plan, cache, best, _ignoring_look(order, own), run)


def leave_without_a_stone(best: object | None, watch: Watch) -> None:
    """Raise KeyboardInterrupt where a stop came before there was a stone: a stopped search proves
    nothing."""
    if best is None and watch.stop():
        raise KeyboardInterrupt


def _with_stone(
    plan: Plan, cache: PlacementCache, best: PlacedOffer, bound: Bound | None, run: Run
) -> Plan:
    rough, order, watch, clock = plan.rough, plan.order, run.watch, run.clock
    sawing, warnings = saw_plan(rough, best.placement, order.workshop, watch.stop)
    plan = with_stones(plan, (stone_of(rough, *best, bound),), sawing, warnings, watch)
    clock.lap("sawing and marks")
    plan = with_constraints(plan, cache.ground, (best,), watch)
    clock.lap("what holds it")
    plan = with_looks(plan, brief=run.effort == "quick" or watch.stop())
    plan = with_look_doubts(with_looks_about(plan))
    if run.effort != "quick" and not watch.stop():
        plan = with_angle_advice(plan)
    clock.lap("look")
    if order.look is not None and run.effort != "quick":
        plan = with_other_looks(plan, best, cache)
        clock.lap("alternatives")
    if run.effort != "quick" and not watch.stop():
        plan = with_freed_proportion(plan, cache)
        clock.lap("free proportion")
    return plan


def _ignoring_look(order: Order, bound: Bound) -> Bound:
    """``bound``, said to ignore the look where the order asks for one: it covers the angles that
    the look allows, but not what the face shows."""
    return bound if order.look is None else replace(bound, ignores=(*bound.ignores, "the look"))
