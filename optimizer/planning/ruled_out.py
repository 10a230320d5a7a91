"""Why no stone was found: whether that is proved, and which demand alone stands in the way."""

from collections.abc import Sequence
from dataclasses import replace

from optimizer.offers.bound import VolumeBound
from optimizer.offers.offer import Offer
from optimizer.offers.placement_cache import PlacementCache
from optimizer.offers.wanted_look import look_shortfall
from optimizer.offers.width_bound import room_left
from optimizer.placement.ground import Ground
from optimizer.plan_model import Plan, RuledOut
from optimizer.planning.finished import stone_of
from optimizer.planning.relaxation_search import WORK, RelaxationSearch, single_relaxations
from optimizer.wording.plain_number import plain


def with_reasons(
    plan: Plan, cache: PlacementCache, allowed: Sequence[Offer], bounds: Sequence[VolumeBound]
) -> Plan:
    """``plan`` with whether it is proved that nothing fits, and with each demand that alone stands
    in the way. ``cache`` holds the placements found so far."""
    proved = all(bound.proved_too_small for bound in bounds)
    search, reasons, shortfalls = RelaxationSearch(WORK[plan.effort]), [], list[str]()
    cramped = no_room(cache.ground, allowed[0])
    tried = () if cramped else single_relaxations(plan.rough, plan.order)
    for one, best in search.stones_found(tried, plan.rough, plan.order, cache):
        reasons.append(RuledOut(one.sentence, stone_of(plan.rough, *best, None)))
        if one.order.look != plan.order.look:
            shortfalls.append(look_shortfall(plan.rough, plan.order, best.placement))
    sentences = (*shortfalls[:1], *search.untried_line(), *cramped)
    return replace(
        plan,
        status="impossible" if proved else "not found",
        ruled_out_by=tuple(reasons),
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
