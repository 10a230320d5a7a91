"""The stones of a plan with their figures, saw cuts, marks and warnings."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from optimizer.guidance import guide, guide_saw
from optimizer.guidance.flat import dop_warnings
from optimizer.guidance.flaws import flaw_warnings
from optimizer.guidance.guessed_surface import guessed_surface_warnings
from optimizer.guidance.model import DirectionView, Guidance
from optimizer.offers.bound import Bound
from optimizer.offers.crystal import CLEAVAGE_DEG
from optimizer.offers.least_width import SMALLEST_MM
from optimizer.offers.offer import Offer
from optimizer.order import Order
from optimizer.placement.active_constraints import what_holds
from optimizer.placement.ground import Ground
from optimizer.placement.model import Placement
from optimizer.placement.search import Watch
from optimizer.plan_model import Plan, Stone
from optimizer.planning.carat_range import carat_range, cut_to_size
from optimizer.planning.missing_parts import missing_parts
from optimizer.rough.model import Rough
from optimizer.sawing.flaws import cracks_at_cuts
from optimizer.sawing.model import Piece, SawPlan
from optimizer.wording.plain_number import plain

THICK_GIRDLE = (
    0.1  # of the width; from memory of the usual handbooks, "extremely thick" begins lower
)


def without_a_stone(
    rough: Rough, order: Order, seed: int, effort: str, bound: Bound | None
) -> Plan:
    """A plan without stones, to which stones may be added."""
    return Plan(
        status="not found",
        interrupted=False,
        seed=seed,
        effort=effort,
        rough=rough,
        order=order,
        stones=(),
        sawing=SawPlan((Piece(0, None, None, rough.mesh),), (), (), ()),
        saw_guide=None,
        bound=bound,
        ruled_out_by=(),
        warnings=(),
        audit=(),
        timing_s={},
    )


def carat_of(rough: Rough, placement: Placement) -> float:
    """Weight of the finished stone."""
    return placement.volume_mm3 * rough.material.sg / 200.0


def stone_of(rough: Rough, offer: Offer, placement: Placement, bound: Bound | None) -> Stone:
    """The placed offer as a stone of the plan, with its figures."""
    body, width = placement.body, placement.pose.width
    usual = None if offer.usual_mm3 is None else offer.usual_mm3 * rough.material.sg / 200.0
    return Stone(
        design=offer.design,
        parameters=offer.parameters,
        placement=placement,
        length_mm=body.length_at(width),
        width_mm=width,
        depth_mm=body.depth_at(width),
        girdle_mm=body.girdle_at(width),
        volume_mm3=placement.volume_mm3,
        carat=carat_of(rough, placement),
        carat_range=carat_range(rough, body, width, offer.want.width_mm),
        cut_to_size=cut_to_size(width, offer.want.width_mm),
        bound=bound,
        free=() if offer.freedom is None else offer.freedom.family.free,
        usual_light=offer.usual_light,
        usual_carat=usual,
    )


def with_stones(
    plan: Plan, stones: Sequence[Stone], sawing: SawPlan, warnings: Sequence[str], watch: Watch
) -> Plan:
    """``plan`` with stones, their saw plan, and all that the cutter needs at the bench."""
    rough = plan.rough
    along = stones[0].placement.pose.rotation[:, 0]
    guided = tuple(
        replace(stone, guidance=_guidance(plan, stone, sawing, number))
        for number, stone in enumerate(stones)
    )
    guessed = (guessed_surface_warnings(rough, plan.asked_of(one), one.placement) for one in stones)
    all_warnings = (
        *(text for texts in guessed for text in texts),
        *plan.warnings,
        *warnings,
        *cracks_at_cuts(rough, sawing, plan.order.workshop),
        *(text for stone in guided for text in _doubts(plan, stone)),
    )
    return replace(
        plan,
        status="found",
        stones=guided,
        sawing=sawing,
        saw_guide=guide_saw(rough, sawing, along, watch.stop),
        warnings=tuple(dict.fromkeys(all_warnings)),
    )


def _guidance(plan: Plan, stone: Stone, sawing: SawPlan, number: int) -> Guidance:
    return guide(
        plan.rough,
        stone.design,
        stone.parameters,
        stone.placement,
        sawing,
        plan.asked_of(stone),
        number,
    )


def _doubts(plan: Plan, stone: Stone) -> Iterator[str]:
    assert stone.guidance is not None
    yield from _too_small(stone)
    yield from _thick_girdle(stone)
    yield from dop_warnings(stone.placement, stone.guidance.dop)
    yield from flaw_warnings(stone.guidance.flaws)
    yield from _near_cleavage(plan.asked_of(stone), stone.guidance.direction)


def with_constraints(
    plan: Plan, ground: Ground, chosen: Sequence[tuple[Offer, Placement]], watch: Watch
) -> Plan:
    """``plan`` with the active constraints of each stone (placed as in ``chosen``), and a warning
    on what a stop left out."""
    per_mm3 = plan.rough.material.sg / 200.0
    held = [
        what_holds(ground, offer.want, placement, ct_per_mm3=per_mm3, watch=watch)
        for offer, placement in chosen
    ]
    stones = tuple(replace(s, held=h) for s, h in zip(plan.stones, held, strict=True))
    missing = () if plan.saw_guide is None else missing_parts(plan.saw_guide.distances, held)
    return replace(plan, stones=stones, warnings=(*plan.warnings, *missing))


def _too_small(stone: Stone) -> tuple[str, ...]:
    if stone.width_mm >= SMALLEST_MM:
        return ()
    return (
        f"The stone is only {stone.width_mm:.2f} mm wide, which few can hold and polish; look at "
        "another design, another piece or a smaller clearance.",
    )


def _thick_girdle(stone: Stone) -> tuple[str, ...]:
    share = stone.girdle_mm / stone.width_mm
    if share <= THICK_GIRDLE:
        return ()
    return (
        f"The girdle is {stone.girdle_mm:.2f} mm thick, {100.0 * share:.0f} % of the width: so "
        "thick a band is seen, and its weight adds nothing to the face; ask for less in [girdle].",
    )


def _near_cleavage(order: Order, view: DirectionView | None) -> tuple[str, ...]:
    """A warning where the order waives the limit and a facet lies along cleavage."""
    waived = order.direction is not None and order.direction.cleavage_clear_deg == 0.0
    if not waived or view is None or view.cleavage_deg is None or view.cleavage_deg >= CLEAVAGE_DEG:
        return ()
    return (
        f"The facet {view.cleavage_facet} lies {view.cleavage_deg:.1f}° off a cleavage plane and "
        f"may not polish; cleavage_clear_deg = {plain(CLEAVAGE_DEG)} in the order's [direction] "
        "keeps every facet off.",
    )
