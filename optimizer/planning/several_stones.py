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
from optimizer.several.divide import Divided, Search, divide, fits
from optimizer.several.joined import Site
from optimizer.several.looks import but_for_looks, looked
from optimizer.several.model import Division, PlacedStone
from optimizer.several.most import alone, disproved, most_of, most_worth
from optimizer.several.pairs import pairs_of
from optimizer.several.shape import well_shaped
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
    wanted = well_shaped(ground, wanted, run.seed, watch)
    clock.lap("preparation")
    aimed, met, unseen = looked(rough, wanted, PlacementCache(ground, run.seed, watch), run.effort)
    site = Site(ground, aimed, worth, rough.material.sg, order.workshop, met)
    most = (order.several or Several()).most
    search = Search(rough, site, most, run.effort, run.seed, watch)
    divided = divide(search)
    leave_without_a_stone(divided, watch)
    looser = () if divided else without_needs(search)
    divided = divided or after_all(search, looser)
    divided, simple = _with_simple_cuts(rough, site, divided, watch)
    clock.lap("search")
    asked = replace(site, wishes=wanted)
    each = alone(asked, watch)
    bound = most_of(asked, rough, most, each)
    clock.lap("bound")
    plan = without_a_stone(rough, order, run.seed, run.effort, but_for_looks(wanted, bound))
    plan = replace(plan, warnings=(*left_out, *unpriced, *unseen))
    if divided is None:
        plan = with_needs(plan, search, looser)
        if disproved(asked, rough, each):
            plan = replace(plan, status="impossible")
        leave_without_a_stone(divided, watch)
        clock.lap("what rules it out")
        return plan
    sawn, too_deep = _in_reach(plan, site, divided, run)
    plan = replace(plan, warnings=(*plan.warnings, *too_deep))
    if sawn is None:
        return out_of_reach(plan, divided.best)
    if sawn[0].best is not divided.best:
        simple = ()
    divided, plan = sawn
    clock.lap("sawing and marks")
    dearest = most_worth(asked, rough, most, each) if worth.kind == "money" else None
    plan = replace(plan, notes=(*simple, *_notes(site, divided, dearest)))
    plan = with_looks(plan, brief=run.effort == "quick" or watch.stop())
    if run.effort != "quick" and not watch.stop():
        plan = with_angle_advice(plan)
    plan = _with_pairs(plan, site, divided.best)
    clock.lap("look")
    if run.effort != "quick":
        plan = _with_others(plan, site, divided.others, run)
        clock.lap("alternatives")
    return plan


def _with_simple_cuts(
    rough: Rough, site: Site, divided: Divided | None, watch: Watch
) -> tuple[Divided | None, tuple[str, ...]]:
    """The division with all cuts square or parallel to flats and to one another where that costs
    next to nothing, and what it costs in a sentence."""
    if divided is None or watch.stop() or isinstance(divided.best.fork, int):
        return divided, ()
    flats = [face.plane.normal for face in rough.reference_faces]
    simple = simplified(site, divided.best, flats, effort="quick", watch=watch)
    to_what = "the rough's flats or " if flats else ""
    how = f"all cuts square or parallel to {to_what}to one another"
    if simple is None or not fits(site, simple):
        return divided, (f"With {how} these stones don't fit.",)
    cost = site.total(divided.best) - site.total(simple)
    if cost <= FOR_NOTHING * site.total(divided.best):
        divided = replace(divided, best=simple)
        return divided, (f"So planned, {how}: that costs {_worth(site, max(cost, 0.0))}.",)
    return divided, (f"To have {how} would cost {_worth(site, cost)}.",)


def _worth(site: Site, value: float) -> str:
    return f"{value:.2f} {site.worth.unit}"


def _sawn(plan: Plan, site: Site, division: Division, run: Run) -> Plan:
    """``plan`` with the stones of a division, sawn apart."""
    shop, worth = plan.order.workshop, site.worth
    stones = [_stone(plan.rough, site, laid) for laid in division.stones]
    paid = sum(worth.of(stone.design, stone.carat) for stone in stones)
    if worth.cut:  # waste is ground, and an offcut's cut must pay at the plan's own rate
        pays_ct = worth.cut * plan.rough.carat / paid if paid else np.inf
        keep_ct = max(shop.keep_offcut_ct, pays_ct)
        shop = replace(shop, grind_mm=np.inf, keep_offcut_ct=keep_ct)
    sawing, warnings = saw_plan_of(plan.rough, division, shop, run.watch.stop)
    objective = Objective(worth.kind, paid - worth.cut * len(sawing.cuts), worth.unit)
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
            worth = _worth(site, site.total(division))
            too_deep.append(f"A plan that gives {worth} was given up: {error}.")
            continue
        return (replace(divided, best=division, others=found[number + 1 :]), sawn), ()
    return None, tuple(too_deep)


def _stone(rough: Rough, site: Site, laid: PlacedStone) -> Stone:
    wish = site.wishes[laid.wish]
    stone = stone_of(rough, replace(laid.offer, freedom=None), laid.placement, None)
    money = site.worth.money_of(stone.design, stone.carat)
    return replace(stone, order=wish.order, wanted=wish.name, money=money)


def _notes(site: Site, divided: Divided, dearest: float | None) -> Iterator[str]:
    """What is known of better plans, beside the bound in carats; ``dearest``: the one in money."""
    total, first = site.total(divided.best), divided.largest_first
    if first is not None and first <= total and not site.worth.cut:
        yield (
            "The largest stone first, then the largest that is left, and so on, would give about "
            f"{_worth(site, first)}; this plan gives {_worth(site, total)}."
        )
    choice = divided.choice
    if choice and choice.bound >= total:
        how = "it is proved that none gives" if choice.optimal else "none gives"
        yield (
            f"Of all choices among the stones tried at first, {how} more than "
            f"{_worth(site, choice.bound)} before stones and cuts are moved together; that says "
            "nothing of stones not tried."
        )
    if dearest is not None:
        yield (
            f"No plan is worth more than {_worth(site, dearest)}: a loose bound, from prices, the "
            "rough's weight, how large each stone can be by itself and what the cuts cost."
        )


def _with_pairs(plan: Plan, site: Site, division: Division) -> Plan:
    """``plan`` with a note on which stones are a pair, and a warning where one shows a colour that
    the other does not."""
    notes, warnings = [], []
    for one, other in pairs_of(division.stones, site.wishes):
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


def _with_others(plan: Plan, site: Site, divisions: Sequence[Division], run: Run) -> Plan:
    """``plan`` with other ways to saw the piece, each sawn and audited as it is."""
    found, failed = [], []
    for division in divisions:
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
