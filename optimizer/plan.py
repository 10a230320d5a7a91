"""The whole job as one readable function: rough + order -> Plan."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from time import perf_counter

from optimizer.alternatives import differs, wishes
from optimizer.audit import audit
from optimizer.carat_range import carat_range
from optimizer.crystal import CLEAVAGE_DEG, off_cleavage
from optimizer.cut_short import cut_short
from optimizer.errors import AuditError, InputError, nearest
from optimizer.guidance import guide
from optimizer.guidance.flaws import flaw_warnings
from optimizer.guidance.model import DirectionView
from optimizer.guidance.unseen import unseen_near
from optimizer.limits import Most, limit, room_left
from optimizer.looks import with_looks
from optimizer.offer import Offer, offers, relaxations, without_each_flaw
from optimizer.order import Order, ZoneDemand
from optimizer.placement.bounding import MOST_HOLLOW_CELLS
from optimizer.placement.ground import Ground
from optimizer.placement.holds import what_holds
from optimizer.placement.model import Placement
from optimizer.placement.place import place
from optimizer.placement.proof import MOST_CELLS
from optimizer.placement.search import EFFORTS, Watch
from optimizer.placement.shaped import place_shaped
from optimizer.plan_model import Alternative, Bound, Plan, RuledOut, Stone
from optimizer.rough.flats import with_flats
from optimizer.rough.model import Rough
from optimizer.rough.weight_words import refuse_wrong_weight
from optimizer.sawing import saw_plan
from optimizer.sawing.flaws import cracks_at_cuts
from optimizer.sawing.model import Piece, SawPlan
from optimizer.shape_limits import most_possible
from optimizer.wanted_light import with_light
from optimizer.wanted_look import MARGINS, REGIONS, Aim, look_about, with_zone

__all__ = ["Bound", "Plan", "RuledOut", "Stone", "make_plan"]

GAP_PERCENT = 0.3  # of the weight: less than any lap keeps to
SMALLEST_MM = 2.0  # width of a stone that is still cut by hand; common practice, no source
LEAST_CELLS = 4000  # the bound of each of many designs still gets these
CLOSE_SHARE = 0.9  # a design this near to the best of a quick look is looked at in full


@dataclass
class Clock:
    """Seconds of each stage."""

    started: float = field(default_factory=perf_counter)
    laps: dict[str, float] = field(default_factory=dict)

    def lap(self, stage: str) -> None:
        """The stage that ends now."""
        self.laps[stage] = perf_counter() - self.started - sum(self.laps.values())

    def seconds(self) -> dict[str, float]:
        """All stages and their total."""
        return {"total": perf_counter() - self.started, **self.laps}


def make_plan(
    rough: Rough,
    order: Order,
    *,
    seed: int = 0,
    effort: str = "normal",
    prove: bool = False,
    gap: float = 1.0,
    watch: Watch | None = None,
) -> Plan:
    """Plan the heaviest stone that meets the order, with its cuts and marks, and audit it.

    ``effort`` is a work budget: "quick", "normal" or "thorough". With ``prove`` the bound is
    tightened until it is within ``gap`` percent of the weight, or can't be any more. Stopped by
    ``watch``, the plan holds the best so far, and names what it lacks. Raises KeyboardInterrupt
    where the stop came before there was a stone, InputError where rough and order don't fit
    together or the piece's weight denies its scan, AuditError where the independent check refuses
    the result.
    """
    if effort not in EFFORTS:
        raise InputError(f'the effort "{effort}" is not known; {nearest(effort, EFFORTS)}')
    refuse_wrong_weight(rough)
    clock, watch = Clock(), watch or Watch()
    rough = with_flats(rough)
    asked, order = order, off_cleavage(rough, order)
    allowed, left_out = wanted(rough, order)
    ground = Ground.of(rough.mesh, watch.stop)
    clock.lap("preparation")
    best = best_of(rough, order, ground, allowed, effort, seed, watch)
    _leave_without_a_stone(best, watch)
    clock.lap("search")
    proving = MOST_CELLS if ground.convex else MOST_HOLLOW_CELLS
    cells = proving if prove else EFFORTS[effort].cells
    most = bounds(ground, allowed, best, cells, gap if prove else GAP_PERCENT, prove, watch)
    clock.lap("bound")
    looked = {"hollows": prove and not watch.stop(), "convex": ground.convex}
    bound = _but_for_look(order, limit(rough, allowed, most, **looked))
    plan = _without_a_stone_yet(rough, order, seed, effort, bound)
    plan = replace(plan, warnings=(*rough.warnings, *left_out, *_usual_limit(order, asked)))
    if best is not None:
        which = next(k for k, offer in enumerate(allowed) if offer.design is best[0].design)
        own = _but_for_look(order, limit(rough, [allowed[which]], [most[which]], **looked))
        plan = _with_stone(plan, *best, own, watch)
        clock.lap("sawing and marks")
        plan = _with_holding(plan, ground, *best, watch)
        clock.lap("what holds it")
        plan = with_looks(plan, brief=effort == "quick" or watch.stop())
        plan = replace(plan, look_about=look_about(rough, order, best[1]))
        clock.lap("look")
        if order.look is not None and effort != "quick":
            plan = _with_alternatives(plan, ground, watch)
            clock.lap("alternatives")
    else:
        plan = _with_reasons(plan, ground, allowed, most, watch)
        _leave_without_a_stone(best, watch)
        clock.lap("what rules it out")
    plan = replace(plan, audit=audit(plan))
    if plan.stones:  # all is there whenever the stop came, bar what the warnings name
        plan = replace(plan, interrupted=watch.stop())
    clock.lap("audit")
    return replace(plan, timing_s=clock.seconds())


def _but_for_look(order: Order, bound: Bound) -> Bound:
    """The bound knows of the angles that the look leaves, not of the look."""
    return bound if order.look is None else replace(bound, ignores=(*bound.ignores, "the look"))


def _leave_without_a_stone(best: object | None, watch: Watch) -> None:
    """A search that was stopped says nothing of what it has not found."""
    if best is None and watch.stop():
        raise KeyboardInterrupt


def _without_a_stone_yet(
    rough: Rough, order: Order, seed: int, effort: str, bound: Bound | None
) -> Plan:
    return Plan(
        status="not found",
        interrupted=False,
        seed=seed,
        effort=effort,
        rough=rough,
        order=order,
        stones=(),
        sawing=SawPlan((Piece(0, None, None, rough.mesh),), (), (), ()),
        guidance=None,
        bound=bound,
        ruled_out_by=(),
        warnings=(),
        audit=(),
        timing_s={},
    )


Told = tuple[Offer, Placement]


def wanted(rough: Rough, order: Order) -> tuple[tuple[Offer, ...], tuple[str, ...]]:
    """Every design that the order allows, its angles kept where the light is as ordered, and why
    others of the library were left out. Raises InputError where none is left."""
    allowed, left_out = offers(rough, with_zone(rough, order))
    kept: list[Offer] = []
    refused: list[str] = []
    for offer in allowed:
        try:
            kept.append(with_light(rough, order, offer))
        except InputError as error:
            if order.designs or len(allowed) == len(refused) + 1:
                raise
            refused.append(f"left out: {error}")
    return tuple(kept), (*left_out, *refused)


def best_of(
    rough: Rough, order: Order, ground: Ground, allowed: Sequence[Offer], effort: str, seed: int,
    watch: Watch,
) -> Told | None:  # fmt: skip
    """The heaviest placement that meets the order, its look as well: the map of each design's
    look, for a stone as it would lie without, says in what ranges the boundary may run."""
    if order.look is None:
        return heaviest(ground, allowed, effort, seed, watch)
    aim = Aim.of(rough, order.look)
    if aim.zone is None:
        return heaviest(ground, allowed, effort, seed, watch, aim.met)
    free = [(offer, _place(ground, offer, "quick", seed, watch)) for offer in allowed]
    for margin in MARGINS:
        narrower = [
            one
            for offer, laid in free
            if laid is not None
            for one in aim.narrowed(laid[1], offer, margin, REGIONS[effort])
        ]
        best = heaviest(ground, narrower, effort, seed, watch, aim.met) if narrower else None
        if best is not None or watch.stop():
            return best
    return None


def heaviest(
    ground: Ground,
    allowed: Sequence[Offer],
    effort: str,
    seed: int,
    watch: Watch,
    met: Callable[[Placement], bool] = lambda _: True,
) -> Told | None:
    """The heaviest placement over all offers that is also ``met``, and the offer with the
    parameters chosen. Of several offers, all get a quick look and only those near the best of it
    the whole effort."""

    def look(chosen: Sequence[Offer], how: str) -> list[tuple[Offer, Placement]]:
        tried = [_place(ground, one, how, seed, watch) for one in chosen if not watch.stop()]
        found = [one for one in tried if one is not None and met(one[1])]
        return sorted(found, key=lambda one: -_volume(one[1]))

    if len(allowed) > 1:
        first = look(allowed, "quick")
        least = CLOSE_SHARE * _volume(first[0][1]) if first else 0.0
        if effort == "quick" or watch.stop():
            return first[0] if first else None
        keys = {_key(offer) for offer, laid in first if _volume(laid) >= least}
        near = [offer for offer in allowed if _key(offer) in keys]
        found = sorted([*look(near or allowed, effort), *first], key=lambda one: -_volume(one[1]))
    else:
        found = look(allowed, effort)
    return found[0] if found else None


def _key(offer: Offer) -> tuple[str, ZoneDemand | None]:
    """What tells offers apart, whatever parameters were chosen."""
    return offer.design.name, offer.want.zone


def bounds(
    ground: Ground,
    allowed: Sequence[Offer],
    best: tuple[Offer, Placement] | None,
    cells: int,
    gap_percent: float,
    hollows: bool,
    watch: Watch,
) -> list[Most]:
    """The most that each offer can be. With a stone found, what matters of another design is
    whether it can be heavier; without one, whether it can be as large as ordered."""
    most, gap = [], (1.0 + gap_percent / 100.0) ** (1.0 / 3.0) - 1.0
    found = None if best is None else _volume(best[1])
    for number, offer in enumerate(allowed, 1):
        share = max(cells // len(allowed), LEAST_CELLS)
        most.append(
            most_possible(
                ground, offer, found_mm3=found, cells=share, gap=gap, hollows=hollows, watch=watch
            )
        )
        watch.progress("bounding", number, len(allowed), 0.0)
    return most


def _place(
    ground: Ground, offer: Offer, effort: str, seed: int, watch: Watch
) -> tuple[Offer, Placement] | None:
    def progress(stage: str, done: int, total: int, best: float) -> None:
        watch.progress(f"{offer.design.title}: {stage}", done, total, best)

    told = Watch(watch.stop, progress)
    if offer.freedom is None:
        placement = place(ground, offer.want, effort=effort, seed=seed, watch=told)
        return None if placement is None else (offer, placement)
    choice = place_shaped(ground, offer.want, offer.freedom, effort=effort, seed=seed, watch=told)
    if choice is None:
        return None
    placement, family = choice.placement, offer.freedom.family
    chosen = {**family.parameters(choice.values), "girdle": placement.body.girdle_share}
    window = offer.freedom.window(placement.body)
    want = replace(offer.want, body=placement.body, width_mm=window)
    return replace(offer, parameters=chosen, want=want, usual_mm3=choice.usual_mm3), placement


def _volume(placement: Placement) -> float:
    return placement.body.volume_at(placement.pose.width)


def _with_stone(
    plan: Plan, offer: Offer, placement: Placement, bound: Bound | None, watch: Watch
) -> Plan:
    rough, order = plan.rough, plan.order
    stone = _stone(rough, offer, placement, bound)
    sawing, warnings = saw_plan(rough, placement, order.workshop, watch.stop)
    guidance = guide(
        rough, offer.design, offer.parameters, placement, sawing, order.workshop, order, watch.stop
    )
    return replace(
        plan,
        status="found",
        stones=(stone,),
        sawing=sawing,
        guidance=guidance,
        warnings=(
            *unseen_near(rough, order, placement),
            *plan.warnings,
            *warnings,
            *cracks_at_cuts(rough, sawing, order.workshop),
            *_too_small(stone),
            *flaw_warnings(guidance.flaws),
            *_near_cleavage(order, guidance.direction),
        ),
    )


def _with_alternatives(plan: Plan, ground: Ground, watch: Watch) -> Plan:
    """What else could be had, each found by a quick search, sawn and audited as the plan is."""
    rough, look, stone = plan.rough, plan.order.look, plan.stones[0]
    assert look is not None
    aim, found, failed = Aim.of(rough, look), [], []
    planned = aim.figures(stone.placement)
    for kind, order in wishes(plan.order, planned):
        if watch.stop():
            break
        best = _heaviest_of(rough, order, ground, plan.seed, watch)
        if best is None or (kind == "heavier" and _volume(best[1]) <= stone.volume_mm3):
            continue
        told = differs(kind, _carat(rough, best[1]), aim.figures(best[1]), stone.carat, planned)
        other = _without_a_stone_yet(rough, order, plan.seed, "quick", None)
        other = _with_stone(other, *best, None, watch)
        other = with_looks(other, brief=True)
        other = replace(other, look_about=look_about(rough, plan.order, best[1]))
        try:
            found.append(Alternative(kind, told, replace(other, audit=audit(other))))
        except AuditError as error:
            failed.append(f"A {kind} alternative failed its check and is left out: {error}")
    return replace(plan, alternatives=tuple(found), warnings=(*plan.warnings, *failed))


def _carat(rough: Rough, placement: Placement) -> float:
    return _volume(placement) * rough.material.sg / 200.0


def _with_holding(
    plan: Plan, ground: Ground, offer: Offer, placement: Placement, watch: Watch
) -> Plan:
    per_mm3 = plan.rough.material.sg / 200.0
    held = what_holds(ground, offer.want, placement, ct_per_mm3=per_mm3, watch=watch)
    missing = () if plan.guidance is None else cut_short(plan.guidance, held)
    stones = (replace(plan.stones[0], held=held), *plan.stones[1:])
    return replace(plan, stones=stones, warnings=(*plan.warnings, *missing))


def _too_small(stone: Stone) -> tuple[str, ...]:
    if stone.width_mm >= SMALLEST_MM:
        return ()
    return (
        f"The stone is only {stone.width_mm:.2f} mm wide, which few can hold and polish; look at "
        "another design, another piece or a smaller clearance.",
    )


def _near_cleavage(order: Order, view: DirectionView | None) -> tuple[str, ...]:
    """A warning where the order waives the limit and a facet lies along cleavage."""
    waived = order.direction is not None and order.direction.cleavage_clear_deg == 0.0
    if not waived or view is None or view.cleavage_deg is None or view.cleavage_deg >= CLEAVAGE_DEG:
        return ()
    return (
        f"The facet {view.cleavage_facet} lies {view.cleavage_deg:.1f}° off a cleavage plane and "
        f"may not polish; cleavage_clear_deg = {CLEAVAGE_DEG:g} in the order's [direction] keeps "
        "every facet off.",
    )


def _usual_limit(order: Order, asked: Order) -> tuple[str, ...]:
    """What was taken for granted of cleavage."""
    if order is asked:
        return ()
    return (
        f"No facet lies within {CLEAVAGE_DEG:g}° of a cleavage plane, as is usual: "
        "cleavage_clear_deg in the order's [direction] sets another limit, 0 none.",
    )


def _stone(rough: Rough, offer: Offer, placement: Placement, bound: Bound | None) -> Stone:
    """The stone's figures."""
    body, width = placement.body, placement.pose.width
    volume = body.volume_at(width)
    usual = None if offer.usual_mm3 is None else offer.usual_mm3 * rough.material.sg / 200.0
    return Stone(
        design=offer.design,
        parameters=offer.parameters,
        placement=placement,
        length_mm=body.length_at(width),
        width_mm=width,
        depth_mm=body.depth_at(width),
        girdle_mm=body.girdle_at(width),
        volume_mm3=volume,
        carat=volume * rough.material.sg / 200.0,
        carat_range=carat_range(rough, body, width, offer.want.width_mm[1]),
        bound=bound,
        free=() if offer.freedom is None else offer.freedom.family.free,
        usual_carat=usual,
    )


def _with_reasons(
    plan: Plan, ground: Ground, allowed: Sequence[Offer], most: Sequence[Most], watch: Watch
) -> Plan:
    """Say whether it is proved that nothing fits, and which demand alone stands in the way."""
    proved = all(one.too_small for one in most)
    reasons = []
    looser = [(text, plan.rough, order) for text, order in relaxations(plan.order)]
    looser += [(text, rough, plan.order) for text, rough in without_each_flaw(plan.rough)]
    for sentence, rough, order in looser:
        if watch.stop():
            break
        best = _heaviest_of(rough, order, ground, plan.seed, watch)
        if best is not None:
            reasons.append(RuledOut(sentence, _stone(plan.rough, *best, None)))
    return replace(
        plan,
        status="impossible" if proved else "not found",
        ruled_out_by=tuple(reasons),
        warnings=(*plan.warnings, *_no_room(ground, allowed[0])),
    )


def _heaviest_of(
    rough: Rough, order: Order, ground: Ground, seed: int, watch: Watch
) -> tuple[Offer, Placement] | None:
    """A quick look at a loosened order, which may also fit no design at all."""
    try:
        allowed, _ = wanted(rough, order)
    except InputError:
        return None
    return best_of(rough, order, ground, allowed, "quick", seed, watch)


def _no_room(ground: Ground, offer: Offer) -> tuple[str, ...]:
    if room_left(ground, offer):
        return ()
    return (
        f"the clearance of {offer.want.skin_mm:g} mm all round (scan_error_mm and clean_up_mm "
        "together) leaves no room in the rough",
    )
