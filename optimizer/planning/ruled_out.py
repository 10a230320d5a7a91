"""Why no stone was found: whether that is proved, and which demand alone stands in the way."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import islice

from optimizer.offers.bound import VolumeBound
from optimizer.offers.offer import Offer
from optimizer.offers.placement_cache import PlacementCache
from optimizer.offers.wanted_look import look_shortfall
from optimizer.offers.width_bound import room_left
from optimizer.placement.ground import Ground
from optimizer.plan_model import Plan, RuledOut
from optimizer.planning.finished import stone_of
from optimizer.planning.nearest_order import nearest_orders
from optimizer.planning.relaxation_search import NONE_NEAR, RelaxationSearch, single_relaxations
from optimizer.wording.plain_number import plain


def with_reasons(
    plan: Plan, cache: PlacementCache, allowed: Sequence[Offer], bounds: Sequence[VolumeBound]
) -> Plan:
    """``plan`` with whether it is proved that nothing fits, and with each demand that alone stands
    in the way. ``cache`` holds the placements found so far."""
    proved = all(bound.proved_too_small for bound in bounds)
    cramped = no_room(cache.ground, allowed[0])
    plan = replace(plan, status="impossible" if proved else "not found")
    if cramped:
        return replace(plan, warnings=(*plan.warnings, *cramped))
    search = RelaxationSearch.of(plan.effort)
    tried = single_relaxations(plan.rough, plan.order)
    found = list(search.stones_found(tried, plan.rough, plan.order, cache))
    shortfalls = (
        look_shortfall(plan.rough, plan.order, best.placement)
        for one, best in found
        if one.order.look != plan.order.look
    )
    nearest = nearest_orders(plan.rough, plan.order, plan.effort, search, cache, found)
    sentences = (*islice(shortfalls, 1), *search.untried_line())
    sentences += () if nearest or cache.watch.stop() else (NONE_NEAR,)
    return replace(
        plan,
        ruled_out_by=tuple(
            RuledOut(one.sentence, stone_of(plan.rough, *best, None)) for one, best in found
        ),
        nearest_orders=nearest,
        warnings=(*plan.warnings, *sentences),
    )


def no_room(ground: Ground, offer: Offer) -> tuple[str, ...]:
    """A sentence where the clearance leaves no room in the piece, so that no search is needed."""
    if room_left(ground, offer):
        return ()
    return (
        f"the clearance of {plain(offer.want.skin_mm)} mm all round (scan_error_mm and clean_up_mm "
        "together) leaves no room in the rough",
    )
