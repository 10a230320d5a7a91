"""Why no division has all the stones that an order needs: searches that need fewer of a kind."""

from collections.abc import Sequence
from dataclasses import replace

from optimizer.offers.placement_cache import PlacementCache
from optimizer.plan_model import NearestOrder, Plan, RuledOut, Stone
from optimizer.planning.finished import stone_of
from optimizer.planning.nearest_division import nearest_divisions, single_stone
from optimizer.planning.nearest_order import nearest_orders
from optimizer.planning.relaxation_search import NONE_NEAR, RelaxationSearch, single_relaxations
from optimizer.planning.relaxed_divisions import RelaxedResult
from optimizer.planning.ruled_out import no_room
from optimizer.rough.model import Rough
from optimizer.several.instance import Search
from optimizer.several.model import Division, Wish
from optimizer.wording.plain_number import plain


def with_reasons(plan: Plan, search: Search, relaxed: Sequence[RelaxedResult]) -> Plan:
    """``plan`` with each kind of stone that alone stands in the way, and the most stones found of
    it. Where no stone was found at all, with each demand that alone stands in the way of one."""
    wishes = search.instance.wishes
    reasons = [
        RuledOut(_needed(wishes[one.wishes[0]]), _heaviest(plan.rough, one.result.best))
        for one in relaxed
        if len(one.wishes) == 1
    ]
    sentences = [_counts_sentence(wishes, one) for one in relaxed]
    nearest = nearest_divisions(plan.order, search, relaxed)
    cramped = no_room(search.instance.ground, wishes[0].offers[0])
    if not relaxed and not cramped:
        relaxation_search = RelaxationSearch.of(plan.effort)
        reasons, nearest = _demands_in_the_way(plan, search, relaxation_search)
        sentences += relaxation_search.untried_line()
        if not nearest and not search.watch.stop():
            sentences.append(NONE_NEAR)
    return replace(
        plan,
        ruled_out_by=tuple(reasons),
        nearest_orders=nearest,
        warnings=(*plan.warnings, *sentences, *cramped),
    )


def with_saw_reach_as_reason(plan: Plan, division: Division) -> Plan:
    """``plan``, which says that the saw's reach alone stands in the way of ``division``."""
    demand = f"the saw: a reach of {plain(plan.order.workshop.saw_reach_mm)} mm"
    return replace(plan, ruled_out_by=(RuledOut(demand, _heaviest(plan.rough, division)),))


def _needed(wish: Wish) -> str:
    return f'the wanted "{wish.name}": {wish.least} of them'


def _heaviest(rough: Rough, division: Division) -> Stone:
    heaviest = max(division.stones, key=lambda stone: stone.volume_mm3)
    return stone_of(rough, replace(heaviest.offer, freedom=None), heaviest.placement, None)


def _counts_sentence(wishes: Sequence[Wish], relaxed: RelaxedResult) -> str:
    counts = ", ".join(
        f'{count} of {wishes[number].least} "{wishes[number].name}"'
        for number, count in zip(relaxed.wishes, relaxed.counts(relaxed.fullest()), strict=True)
    )
    beside = ", beside all else that is needed" if len(relaxed.wishes) == 1 else " together"
    return f"The most that the search found: {counts}{beside}."


def _demands_in_the_way(
    plan: Plan, search: Search, relaxation_search: RelaxationSearch
) -> tuple[list[RuledOut], tuple[NearestOrder, ...]]:
    """Each demand on a stone of a wish, and each flaw, without which a stone is found; and the
    orders nearest to what the wishes ask of a stone. Where one stone is found as a wish asks, its
    number or pair is what stands in the way, and none of its demands."""
    wishes, reasons, nearest = search.instance.wishes, [], []
    needed = [one for one in wishes if one.least] or wishes
    for wish in needed:
        wanted = wish.name if plan.order.wanted else ""
        name = f'the wanted "{wanted}": ' if wanted else ""
        relaxations = single_relaxations(plan.rough, wish.order, name)
        cache = PlacementCache(search.instance.ground, plan.seed, search.watch)
        if (own := relaxation_search.best(plan.rough, wish.order, cache)) is not None:
            single = stone_of(plan.rough, *own, None)
            reasons.append(RuledOut(_needed(wish), single))
            if wanted and len(needed) == 1:
                nearest.append(single_stone(plan.order, wish, single))
            continue
        found = list(relaxation_search.stones_found(relaxations, plan.rough, wish.order, cache))
        for relaxation, stone in found:
            reasons.append(RuledOut(relaxation.sentence, stone_of(plan.rough, *stone, None)))
        near = nearest_orders(plan.rough, wish.order, plan.effort, relaxation_search, cache, found)
        nearest += [one.for_wanted(wanted) for one in near]
    return reasons, tuple(nearest)
