"""Why no stone is there: whether that is proved, and which demand alone stands in the way."""

from collections.abc import Sequence
from dataclasses import replace

from optimizer.offers.heaviest import quick_best
from optimizer.offers.limits import Most, room_left
from optimizer.offers.offer import Offer, relaxations, without_each_flaw
from optimizer.offers.placement_cache import PlacementCache
from optimizer.offers.wanted_look import shown_instead
from optimizer.placement.ground import Ground
from optimizer.placement.search import Watch
from optimizer.plan_model import Plan, RuledOut
from optimizer.planning.finished import stone_of


def with_reasons(
    plan: Plan, ground: Ground, allowed: Sequence[Offer], most: Sequence[Most], watch: Watch
) -> Plan:
    """Say whether it is proved that nothing fits, and which demand alone stands in the way."""
    proved = all(one.too_small for one in most)
    reasons, shown = [], list[str]()
    looser = [(text, plan.rough, order) for text, order in relaxations(plan.order)]
    looser += [(text, rough, plan.order) for text, rough in without_each_flaw(plan.rough)]
    for sentence, rough, order in looser:
        if watch.stop():
            break
        best = quick_best(rough, order, PlacementCache(ground, plan.seed, watch))
        if best is not None:
            reasons.append(RuledOut(sentence, stone_of(plan.rough, *best, None)))
        if best is not None and order.look != plan.order.look:
            shown.append(shown_instead(plan.rough, plan.order, best[1]))
    return replace(
        plan,
        status="impossible" if proved else "not found",
        ruled_out_by=tuple(reasons),
        warnings=(*plan.warnings, *shown[:1], *_no_room(ground, allowed[0])),
    )


def _no_room(ground: Ground, offer: Offer) -> tuple[str, ...]:
    if room_left(ground, offer):
        return ()
    return (
        f"the clearance of {offer.want.skin_mm:g} mm all round (scan_error_mm and clean_up_mm "
        "together) leaves no room in the rough",
    )
