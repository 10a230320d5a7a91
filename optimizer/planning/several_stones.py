"""The plan for several stones out of one piece: search, saw plan, looks, other ways to saw it."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optimizer.audit import audit
from optimizer.errors import AuditError
from optimizer.offers.placement_cache import PlacementCache
from optimizer.order import Order
from optimizer.order.several import Several
from optimizer.placement.ground import Ground
from optimizer.plan_model import Alternative, Objective, Plan, Stone
from optimizer.planning.angle_advice import with_angle_advice
from optimizer.planning.finished import stone_of, with_stones, without_a_stone
from optimizer.planning.look_doubts import with_look_doubts
from optimizer.planning.looks import with_looks, with_looks_about
from optimizer.planning.one_stone import leave_without_a_stone
from optimizer.planning.other_divisions import differs
from optimizer.planning.relaxed_divisions import complete_division, relaxed_results
from optimizer.planning.run import Run
from optimizer.planning.several_notes import better_plan_notes, with_pair_notes, worth_text
from optimizer.planning.several_ruled_out import with_reasons, with_saw_reach_as_reason
from optimizer.planning.simple_cuts import simple_cut_notes, with_simple_cuts
from optimizer.rough.model import Rough
from optimizer.sawing import OutOfReachError, saw_plan_of
from optimizer.several.divide import SearchResult, divide
from optimizer.several.initial_shapes import with_initial_shapes
from optimizer.several.instance import Instance, Search
from optimizer.several.looks import ignoring_looks, with_look_ranges
from optimizer.several.model import Division, PlacedStone
from optimizer.several.plan_bounds import (
    plan_weight_bound,
    plan_worth_bound,
    proved_infeasible,
    single_stone_bounds,
)
from optimizer.several.wishes import wishes
from optimizer.several.worth import worth_of


def plan_several(rough: Rough, order: Order, run: Run) -> Plan:
    """The plan of most worth for several stones, not audited yet.

    Raises KeyboardInterrupt where a stop came before there was a division with all that the order
    needs, InputError where rough and order don't fit together.
    """
    watch, clock = run.watch, run.clock
    search, ordered, warnings = _prepared(rough, order, run)
    result = divide(search)
    leave_without_a_stone(result, watch)
    relaxed = () if result else relaxed_results(search)
    result = result or complete_division(search, relaxed)
    result, simple = with_simple_cuts(rough, search.instance, result, watch)
    clock.lap("search")
    single_bounds = single_stone_bounds(ordered, watch)
    bound, because = plan_weight_bound(ordered, rough, search.most, single_bounds)
    clock.lap("bound")
    bound = ignoring_looks(ordered.wishes, bound)
    plan = without_a_stone(rough, order, run.seed, run.effort, bound)
    plan = replace(plan, warnings=warnings)
    if result is None:
        plan = with_reasons(plan, search, relaxed)
        if proved_infeasible(ordered, rough, single_bounds):
            plan = replace(plan, status="impossible")
        leave_without_a_stone(result, watch)
        clock.lap("what rules it out")
        return plan
    within_reach, plan = _best_within_reach(plan, search.instance, result, run)
    if within_reach is None:
        return with_saw_reach_as_reason(plan, result.best)
    clock.lap("sawing and marks")
    worth_bound = None
    if ordered.worth.kind == "money":
        worth_bound = plan_worth_bound(ordered, rough, search.most, single_bounds)
    as_searched = within_reach.best is result.best
    notes = tuple(simple_cut_notes(simple if as_searched else None, rough, plan.sawing))
    notes += tuple(better_plan_notes(search.instance, within_reach, worth_bound))
    notes += (f"No plan for these stones weighs more than {bound.carat:.2f} ct: {because}.",)
    return _with_looks_and_others(replace(plan, notes=notes), search.instance, within_reach, run)


def _prepared(rough: Rough, order: Order, run: Run) -> tuple[Search, Instance, tuple[str, ...]]:
    """(the search, the problem instance as ordered, warnings). The instance as ordered lacks the
    ranges of the boundary to which the looks narrow the search; bounds are taken of it."""
    wanted, left_out = wishes(rough, order)
    worth, unpriced = worth_of(order, [offer.design for wish in wanted for offer in wish.offers])
    ground = Ground.of(rough.mesh, run.watch.stop)
    wanted = with_initial_shapes(ground, wanted, run.seed, run.watch)
    run.clock.lap("preparation")
    cache = PlacementCache(ground, run.seed, run.watch)
    narrowed, look_met, unmet = with_look_ranges(rough, wanted, cache, run.effort)
    instance = Instance(ground, narrowed, worth, rough.material.sg, order.workshop, look_met)
    most = (order.several or Several()).most
    search = Search(rough, instance, most, run.effort, run.seed, run.watch)
    return search, replace(instance, wishes=wanted), (*left_out, *unpriced, *unmet)


def _best_within_reach(
    plan: Plan, instance: Instance, result: SearchResult, run: Run
) -> tuple[SearchResult | None, Plan]:
    """``result`` from the first division on that the saw can part, and ``plan`` with the stones of
    that division. None where the saw can part no division. The plan warns of each division that
    was given up."""
    divisions = (result.best, *result.others)
    for number, division in enumerate(divisions):
        try:
            sawn = _sawn(plan, instance, division, run)
        except OutOfReachError as error:
            worth = worth_text(instance, instance.division_worth(division))
            given_up = f"A plan that gives {worth} was given up: {error}."
            plan = replace(plan, warnings=(*plan.warnings, given_up))
        else:
            return replace(result, best=division, others=divisions[number + 1 :]), sawn
    return None, plan


def _sawn(plan: Plan, instance: Instance, division: Division, run: Run) -> Plan:
    """``plan`` with the stones of a division, sawn apart."""
    shop, worth = plan.order.workshop, instance.worth
    stones = [_stone(plan.rough, instance, placed) for placed in division.stones]
    paid = sum(worth.of(stone.design, stone.carat) for stone in stones)
    if worth.cut:  # waste is ground, and an offcut's cut must pay at the plan's own rate
        pays_ct = worth.cut * plan.rough.carat / paid if paid else np.inf
        keep_ct = max(shop.keep_offcut_ct, pays_ct)
        shop = replace(shop, grind_mm=np.inf, keep_offcut_ct=keep_ct)
    sawing, warnings = saw_plan_of(plan.rough, division, shop, run.watch.stop)
    objective = Objective(worth.kind, paid - worth.cut * len(sawing.cuts), worth.unit)
    return replace(with_stones(plan, stones, sawing, warnings, run.watch), objective=objective)


def _stone(rough: Rough, instance: Instance, placed: PlacedStone) -> Stone:
    wish = instance.wishes[placed.wish]
    stone = stone_of(rough, replace(placed.offer, freedom=None), placed.placement, None)
    money = instance.worth.money_of(stone.design, stone.carat)
    return replace(stone, order=wish.order, wanted=wish.name, money=money)


def _with_looks_and_others(plan: Plan, instance: Instance, result: SearchResult, run: Run) -> Plan:
    """``plan`` with the looks of its stones, advice on angles, pairs and other ways to saw."""
    quick = run.effort == "quick"
    plan = with_looks(plan, brief=quick or run.watch.stop())
    plan = with_look_doubts(with_looks_about(plan))
    if not quick and not run.watch.stop():
        plan = with_angle_advice(plan)
    plan = with_pair_notes(plan, instance, result.best)
    run.clock.lap("look")
    if not quick:
        plan = _with_others(plan, instance, result.others, run)
        run.clock.lap("alternatives")
    return plan


def _with_others(plan: Plan, instance: Instance, divisions: Sequence[Division], run: Run) -> Plan:
    """``plan`` with other ways to saw the piece, each sawn and audited in the same way."""
    found, failed = [], []
    for division in divisions:
        if run.watch.stop():
            break
        other = without_a_stone(plan.rough, plan.order, plan.seed, plan.effort, None)
        other = with_looks(_sawn(other, instance, division, run), brief=True)
        kind = other.stones_named
        try:
            other = replace(other, audit=audit(other))
        except AuditError as error:
            failed.append(f"Another way to saw, {kind}, failed its check: {error}")
            continue
        found.append(Alternative(kind, differs(other, plan), other))
    return replace(plan, alternatives=tuple(found), warnings=(*plan.warnings, *failed))
