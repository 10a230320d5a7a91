"""The alternatives of an order that asks for a look, each a whole plan of its own."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from optimizer.audit import audit
from optimizer.errors import AuditError
from optimizer.offers.heaviest import quick_best
from optimizer.offers.placement_cache import PlacedOffer, PlacementCache
from optimizer.offers.wanted_look import LookTarget, with_zone
from optimizer.order import Order
from optimizer.placement.search import Watch
from optimizer.plan_model import Alternative, Plan
from optimizer.planning.finished import stone_of, with_stones, without_a_stone
from optimizer.planning.look_doubts import with_look_doubts
from optimizer.planning.look_wishes import LookBaseline, LookWish, differs, look_wishes
from optimizer.planning.looks import with_looks, with_looks_about
from optimizer.sawing import saw_plan


def with_other_looks(plan: Plan, planned: PlacedOffer, cache: PlacementCache) -> Plan:
    """``plan`` with its alternatives, each the best stone of a quick search and of all placements
    that ``cache`` holds by then, sawn and audited as the plan is."""
    order = with_zone(plan.rough, plan.order)
    assert order.look is not None
    baseline = LookBaseline.of(planned, LookTarget.of(plan.rough, order.look), cache)
    chosen: list[tuple[list[LookWish], PlacedOffer]] = []
    lacking, found = [], []
    for wish, best in _searched(plan, order, baseline):
        alike = [
            asked for asked, one in chosen if best is not None and one.placement is best.placement
        ]
        if best is None:
            lacking.append(f"Nothing {wish.words} was found.")
        elif alike:
            alike[0].append(wish)
        else:
            chosen.append(([wish], best))
    for asked, best in chosen:
        kinds = [wish.kind for wish in asked]
        other = _sawn(plan, asked[-1].order, best, cache.watch)
        try:
            other = replace(other, audit=audit(other))
        except AuditError as error:
            lacking.append(f"A {kinds[0]} stone failed its check and is left out: {error}")
            continue
        found.append(Alternative(kinds[0], _sentence(kinds, other, plan), other))
    return replace(plan, alternatives=tuple(found), not_had=tuple(lacking))


def _sentence(kinds: Sequence[str], other: Plan, plan: Plan) -> str:
    """What differs from the plan, by the looks that both plans tell."""
    (now,), (then,), look = other.stones, plan.stones, plan.order.look
    assert now.look is not None
    assert then.look is not None
    assert look is not None
    figures = [
        (one.light, one.zone if look.of_colour else None)
        for one in (now.look.upright, then.look.upright)
    ]
    return differs(kinds, now.carat, figures[0], then.carat, figures[1], look)


def _searched(
    plan: Plan, order: Order, baseline: LookBaseline
) -> Iterator[tuple[LookWish, PlacedOffer | None]]:
    for wish in look_wishes(order, baseline.figures):
        if baseline.cache.watch.stop():
            return
        yield wish, baseline.best(wish, quick_best(plan.rough, wish.order, baseline.cache))


def _sawn(plan: Plan, order: Order, best: PlacedOffer, watch: Watch) -> Plan:
    """The plan of an alternative, without the cuts' distances, which take long."""
    rough = plan.rough
    sawing, warnings = saw_plan(rough, best.placement, order.workshop, watch.stop)
    other = without_a_stone(rough, order, plan.seed, "quick", None)
    stones, brief = (stone_of(rough, *best, None),), Watch(lambda: True)
    other = with_looks(with_stones(other, stones, sawing, warnings, brief), brief=True)
    return with_look_doubts(with_looks_about(other))
