"""The plan for several stones out of one piece: search, saw plan, looks, other ways to saw it."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from optimizer.audit import audit
from optimizer.errors import AuditError
from optimizer.finished import stone_of, with_stones, without_a_stone
from optimizer.looks import with_looks
from optimizer.one_stone import Run, leave_without_a_stone
from optimizer.order import Order
from optimizer.order_several import Several
from optimizer.other_divisions import differs
from optimizer.placement.ground import Ground
from optimizer.plan_model import Alternative, Objective, Plan, Stone
from optimizer.rough.model import Rough
from optimizer.sawing import OutOfReachError, saw_plan_of
from optimizer.several.divide import Divided, Search, divide
from optimizer.several.joined import Site
from optimizer.several.model import Division, Laid
from optimizer.several.wishes import wishes
from optimizer.several.worth import worth_of

MOST_OTHERS = 3  # other ways to saw the piece that are shown


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
    clock.lap("preparation")
    site = Site(ground, wanted, worth, rough.material.sg, order.workshop)
    most = (order.several or Several()).most
    divided = divide(Search(rough, site, most, run.effort, run.seed, watch))
    leave_without_a_stone(divided, watch)
    clock.lap("search")
    plan = without_a_stone(rough, order, run.seed, run.effort, None)
    plan = replace(plan, warnings=(*left_out, *unpriced))
    if divided is None:
        return plan
    sawn, too_deep = _in_reach(plan, site, divided, run)
    plan = replace(plan, warnings=(*plan.warnings, *too_deep))
    if sawn is None:
        return plan
    divided, plan = sawn
    clock.lap("sawing and marks")
    plan = replace(plan, notes=tuple(_notes(site, divided)))
    plan = with_looks(plan, brief=run.effort == "quick" or watch.stop())
    clock.lap("look")
    if run.effort != "quick":
        plan = _with_others(plan, site, divided.others, run)
        clock.lap("alternatives")
    return plan


def _sawn(plan: Plan, site: Site, division: Division, run: Run) -> Plan:
    """``plan`` with the stones of a division, sawn apart."""
    sawing, warnings = saw_plan_of(plan.rough, division, plan.order.workshop, run.watch.stop)
    stones = [_stone(plan.rough, site, laid) for laid in division.stones]
    objective = Objective(site.worth.kind, site.total(division), site.worth.unit)
    return replace(with_stones(plan, stones, sawing, warnings, run.watch), objective=objective)


def _in_reach(
    plan: Plan, site: Site, divided: Divided, run: Run
) -> tuple[tuple[Divided, Plan] | None, tuple[str, ...]]:
    """The division of most worth that the saw can part, with its plan, None where it can none;
    and why better ones can't be sawn."""
    found = (divided.best, *divided.others)
    too_deep: list[str] = []
    for number, division in enumerate(found):
        try:
            sawn = _sawn(replace(plan, warnings=(*plan.warnings, *too_deep)), site, division, run)
        except OutOfReachError as error:
            worth = f"{site.total(division):.2f} {site.worth.unit}"
            too_deep.append(f"A plan worth {worth} was given up: {error}.")
            continue
        return (replace(divided, best=division, others=found[number + 1 :]), sawn), ()
    return None, tuple(too_deep)


def _stone(rough: Rough, site: Site, laid: Laid) -> Stone:
    wish = site.wishes[laid.wish]
    stone = stone_of(rough, replace(laid.offer, freedom=None), laid.placement, None)
    money = site.worth.money_of(stone.design, stone.carat)
    return replace(stone, order=wish.order, wanted=wish.name, money=money)


def _notes(site: Site, divided: Divided) -> Iterator[str]:
    """What is known of better plans, beside the bound."""
    unit, total = site.worth.unit, site.total(divided.best)
    if divided.largest_first:
        yield (
            "The largest stone first, then the largest that is left, and so on, would give "
            f"{divided.largest_first:.2f} {unit}: this plan gives {total:.2f} {unit}."
        )
    choice = divided.choice
    if choice:
        how = "is proved to give at most" if choice.optimal else "gives at most"
        yield (
            f"Any choice among the stones that were tried {how} {choice.bound:.2f} {unit}; that "
            "says nothing of stones that were not tried."
        )


def _with_others(plan: Plan, site: Site, divisions: Sequence[Division], run: Run) -> Plan:
    """``plan`` with other ways to saw the piece, each sawn and audited as it is."""
    found, failed = [], []
    for division in divisions[:MOST_OTHERS]:
        if run.watch.stop():
            break
        other = without_a_stone(plan.rough, plan.order, plan.seed, plan.effort, None)
        other = with_looks(_sawn(other, site, division, run), brief=True)
        kind = other.stones_named
        try:
            other = replace(other, audit=audit(other))
        except AuditError as error:
            failed.append(f"Another way to saw, {kind}, failed its check: {error}")
            continue
        found.append(Alternative(kind, differs(other, plan), other))
    return replace(plan, alternatives=tuple(found), warnings=(*plan.warnings, *failed))
