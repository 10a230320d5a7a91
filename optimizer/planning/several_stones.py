"""The plan for several stones out of one piece: search, saw plan, looks, other ways to saw it."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from optimizer.audit import audit
from optimizer.errors import AuditError
from optimizer.offers.placement_cache import PlacementCache
from optimizer.order import Order
from optimizer.order.several import Several
from optimizer.placement.ground import Ground
from optimizer.placement.search import Watch
from optimizer.plan_model import Alternative, Objective, Plan, Stone
from optimizer.planning.angle_advice import with_angle_advice
from optimizer.planning.finished import stone_of, with_stones, without_a_stone
from optimizer.planning.looks import with_looks
from optimizer.planning.one_stone import Run, leave_without_a_stone
from optimizer.planning.other_divisions import differs
from optimizer.planning.several_ruled_out import after_all, out_of_reach, with_needs, without_needs
from optimizer.rough.model import Rough
from optimizer.sawing import OutOfReachError, saw_plan_of
from optimizer.several.divide import SearchResult, divide
from optimizer.several.incumbents import feasible
from optimizer.several.initial_shapes import with_initial_shapes
from optimizer.several.instance import Instance, Search
from optimizer.several.looks import ignoring_looks, with_look_ranges
from optimizer.several.model import Division, PlacedStone
from optimizer.several.pairs import pairs_of
from optimizer.several.plan_bounds import (
    plan_weight_bound,
    plan_worth_bound,
    proved_infeasible,
    single_stone_bounds,
)
from optimizer.several.simplified import simplified
from optimizer.several.wishes import wishes
from optimizer.several.worth import worth_of

UNLIKE = 0.1  # of the face: two stones that differ by more in a colour are no pair to an eye
FOR_NOTHING = 0.003  # of the worth: simple cuts are taken at this price; our choice


def plan_several(rough: Rough, order: Order, run: Run) -> Plan:
    """The plan of most worth for several stones, not audited yet.

    Raises KeyboardInterrupt where a stop came before there was a division with all that the order
    needs, InputError where rough and order don't fit together.
    """
    watch, clock = run.watch, run.clock
    wanted, left_out = wishes(rough, order)
    designs = [offer.design for wish in wanted for offer in wish.offers]
    worth, unpriced = worth_of(order, designs)
    ground = Ground.of(rough.mesh, watch.stop)
    wanted = with_initial_shapes(ground, wanted, run.seed, watch)
    clock.lap("preparation")
    aimed, met, unseen = with_look_ranges(
        rough, wanted, PlacementCache(ground, run.seed, watch), run.effort
    )
    instance = Instance(ground, aimed, worth, rough.material.sg, order.workshop, met)
    most = (order.several or Several()).most
    search = Search(rough, instance, most, run.effort, run.seed, watch)
    divided = divide(search)
    leave_without_a_stone(divided, watch)
    looser = () if divided else without_needs(search)
    divided = divided or after_all(search, looser)
    divided, simple = _with_simple_cuts(rough, instance, divided, watch)
    clock.lap("search")
    asked = replace(instance, wishes=wanted)
    each = single_stone_bounds(asked, watch)
    bound = plan_weight_bound(asked, rough, most, each)
    clock.lap("bound")
    plan = without_a_stone(rough, order, run.seed, run.effort, ignoring_looks(wanted, bound))
    plan = replace(plan, warnings=(*left_out, *unpriced, *unseen))
    if divided is None:
        plan = with_needs(plan, search, looser)
        if proved_infeasible(asked, rough, each):
            plan = replace(plan, status="impossible")
        leave_without_a_stone(divided, watch)
        clock.lap("what rules it out")
        return plan
    sawn, too_deep = _in_reach(plan, instance, divided, run)
    plan = replace(plan, warnings=(*plan.warnings, *too_deep))
    if sawn is None:
        return out_of_reach(plan, divided.best)
    if sawn[0].best is not divided.best:
        simple = ()
    divided, plan = sawn
    clock.lap("sawing and marks")
    dearest = plan_worth_bound(asked, rough, most, each) if worth.kind == "money" else None
    plan = replace(plan, notes=(*simple, *_notes(instance, divided, dearest)))
    plan = with_looks(plan, brief=run.effort == "quick" or watch.stop())
    if run.effort != "quick" and not watch.stop():
        plan = with_angle_advice(plan)
    plan = _with_pairs(plan, instance, divided.best)
    clock.lap("look")
    if run.effort != "quick":
        plan = _with_others(plan, instance, divided.others, run)
        clock.lap("alternatives")
    return plan


def _with_simple_cuts(
    rough: Rough, instance: Instance, divided: SearchResult | None, watch: Watch
) -> tuple[SearchResult | None, tuple[str, ...]]:
    """The division with all cuts square or parallel to flats and to one another where that costs
    next to nothing, and what it costs in a sentence."""
    if divided is None or watch.stop() or isinstance(divided.best.cut_tree, int):
        return divided, ()
    flats = [face.plane.normal for face in rough.reference_faces]
    simple = simplified(instance, divided.best, flats, effort="quick", watch=watch)
    to_what = "the rough's flats or " if flats else ""
    how = f"all cuts square or parallel to {to_what}to one another"
    if simple is None or not feasible(instance, simple):
        return divided, (f"With {how} these stones don't fit.",)
    cost = instance.division_worth(divided.best) - instance.division_worth(simple)
    if cost <= FOR_NOTHING * instance.division_worth(divided.best):
        divided = replace(divided, best=simple)
        return divided, (f"So planned, {how}: that costs {_worth(instance, max(cost, 0.0))}.",)
    return divided, (f"To have {how} would cost {_worth(instance, cost)}.",)


def _worth(instance: Instance, value: float) -> str:
    return f"{value:.2f} {instance.worth.unit}"


def _sawn(plan: Plan, instance: Instance, division: Division, run: Run) -> Plan:
    """``plan`` with the stones of a division, sawn apart."""
    shop, worth = plan.order.workshop, instance.worth
    stones = [_stone(plan.rough, instance, laid) for laid in division.stones]
    paid = sum(worth.of(stone.design, stone.carat) for stone in stones)
    if worth.cut:  # waste is ground, and an offcut's cut must pay at the plan's own rate
        pays_ct = worth.cut * plan.rough.carat / paid if paid else np.inf
        keep_ct = max(shop.keep_offcut_ct, pays_ct)
        shop = replace(shop, grind_mm=np.inf, keep_offcut_ct=keep_ct)
    sawing, warnings = saw_plan_of(plan.rough, division, shop, run.watch.stop)
    objective = Objective(worth.kind, paid - worth.cut * len(sawing.cuts), worth.unit)
    return replace(with_stones(plan, stones, sawing, warnings, run.watch), objective=objective)


def _in_reach(
    plan: Plan, instance: Instance, divided: SearchResult, run: Run
) -> tuple[tuple[SearchResult, Plan] | None, tuple[str, ...]]:
    """The division of most worth that the saw can part, with its plan, None where it can none;
    and why better ones can't be sawn."""
    found = (divided.best, *divided.others)
    too_deep: list[str] = []
    for number, division in enumerate(found):
        try:
            sawn = _sawn(
                replace(plan, warnings=(*plan.warnings, *too_deep)), instance, division, run
            )
        except OutOfReachError as error:
            worth = _worth(instance, instance.division_worth(division))
            too_deep.append(f"A plan that gives {worth} was given up: {error}.")
            continue
        return (replace(divided, best=division, others=found[number + 1 :]), sawn), ()
    return None, tuple(too_deep)


def _stone(rough: Rough, instance: Instance, laid: PlacedStone) -> Stone:
    wish = instance.wishes[laid.wish]
    stone = stone_of(rough, replace(laid.offer, freedom=None), laid.placement, None)
    money = instance.worth.money_of(stone.design, stone.carat)
    return replace(stone, order=wish.order, wanted=wish.name, money=money)


def _notes(instance: Instance, divided: SearchResult, dearest: float | None) -> Iterator[str]:
    """What is known of better plans, beside the bound in carats; ``dearest``: the one in money."""
    total, first = instance.division_worth(divided.best), divided.largest_first
    if first is not None and first <= total and not instance.worth.cut:
        yield (
            "The largest stone first, then the largest that is left, and so on, would give about "
            f"{_worth(instance, first)}; this plan gives {_worth(instance, total)}."
        )
    choice = divided.choice
    if choice and choice.bound >= total:
        how = "it is proved that none gives" if choice.optimal else "none gives"
        yield (
            f"Of all choices among the stones tried at first, {how} more than "
            f"{_worth(instance, choice.bound)} before stones and cuts are moved together; that "
            "says nothing of stones not tried."
        )
    if dearest is not None:
        yield (
            f"No plan is worth more than {_worth(instance, dearest)}: a loose bound, from prices, "
            "the rough's weight, how large each stone can be by itself and what the cuts cost."
        )


def _with_pairs(plan: Plan, instance: Instance, division: Division) -> Plan:
    """``plan`` with a note on which stones are a pair, and a warning where one shows a colour that
    the other does not."""
    notes, warnings = [], []
    for one, other in pairs_of(division.stones, instance.wishes):
        two = f"Stones {one + 1} and {other + 1}"
        notes.append(f"{two} are a pair.")
        looks = [look for k in (one, other) if (look := plan.stones[k].look) is not None]
        shares = [zone.share for look in looks if (zone := look.upright.zone) and zone.distinct]
        if len(shares) == 2 and abs(shares[0] - shares[1]) > UNLIKE:
            warnings.append(
                f"{two} are a pair in shape and width, but {100.0 * shares[0]:.0f} % and "
                f"{100.0 * shares[1]:.0f} % of their faces show {looks[0].colouring.first.name}: "
                "a zone of the wanted pair makes them alike."
            )
    return replace(plan, notes=(*plan.notes, *notes), warnings=(*plan.warnings, *warnings))


def _with_others(plan: Plan, instance: Instance, divisions: Sequence[Division], run: Run) -> Plan:
    """``plan`` with other ways to saw the piece, each sawn and audited as it is."""
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
