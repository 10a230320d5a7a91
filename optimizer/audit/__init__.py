"""Independent re-check of a plan before anything is written.

Every figure is measured anew from meshes with the robust boolean kernel and plain arithmetic on
corner points; the search's own geometry is not used. A plan that fails is an error, no result.
"""

from collections.abc import Callable, Iterator

from optimizer.audit.common import RoughSolid
from optimizer.audit.consistency import (
    bounds_hold,
    distances_are_true,
    guidance_fits,
    rough_is_weighed,
    status_fits,
)
from optimizer.audit.contacts import contacts_are_real
from optimizer.audit.containment import inside_the_rough
from optimizer.audit.cuts import cuts_clear_stones, stones_are_apart
from optimizer.audit.demands import choice_is_met, size_is_met, zone_is_met, zone_view
from optimizer.audit.direction import direction_is_met, view_is_true
from optimizer.audit.fittings import fittings_fit
from optimizer.audit.flaws import flaws_are_cleared
from optimizer.audit.look import look_is_met
from optimizer.audit.pieces import (
    offcuts_are_their_pieces,
    piece_solids,
    pieces_add_up,
    stones_lie_in_their_pieces,
)
from optimizer.audit.settings import settings_are_true
from optimizer.audit.stones import (
    figures_are_true,
    is_convex_solid,
    is_the_design,
    pose_is_rigid,
)
from optimizer.audit.tree import pieces_form_a_tree
from optimizer.audit.wanted import list_is_met
from optimizer.design.model import Body
from optimizer.errors import AuditError, InputError
from optimizer.mesh import volume
from optimizer.plan_model import NearestOrder, Plan, Stone
from optimizer.solid import volume_of

Rebuild = Callable[[Stone], Body]

__all__ = ["Rebuild", "audit", "rebuilt_body"]


def audit(plan: Plan, rebuild: Rebuild | None = None) -> tuple[str, ...]:
    """The checks that ``plan`` passes, as plain sentences with the measured numbers.

    ``rebuild`` makes a stone's body anew from its design and parameters; left out, the design
    library does. Raises AuditError at the first check that fails, with one line that says what was
    measured and what was demanded.
    """
    passed = _checks(plan, rebuild or rebuilt_body)
    return tuple(sentence[0].upper() + sentence[1:] for sentence in passed)


def rebuilt_body(stone: Stone) -> Body:
    """The stone's body from its design and stated parameters, by the design library."""
    from optimizer.design import build_body

    planned = stone.placement.body
    try:
        return build_body(
            stone.design,
            stone.parameters,
            least_girdle_mm=planned.least_girdle_mm,
            least_girdle_share=planned.girdle_share,
        )
    except InputError as error:
        raise AuditError(f"the design rebuilt: {error}; demanded: a body") from error


def _checks(plan: Plan, rebuild: Rebuild) -> Iterator[str]:
    yield status_fits(plan)
    rough = RoughSolid.of(plan.rough.mesh)
    yield rough_is_weighed(plan, volume_of(rough.solid))
    for k, stone in enumerate(plan.stones):
        yield from _stone_checks(plan, stone, rough, rebuild, f"stone {k + 1}")
        yield from _demand_checks(plan, stone, f"stone {k + 1}")
    for k, other in enumerate(plan.ruled_out_by):
        yield from _stone_checks(plan, other.stone, rough, rebuild, f"the ruled-out stone {k + 1}")
    for k, near in enumerate(plan.nearest_orders):
        yield from _nearest_order_checks(plan, near, rough, rebuild, f"nearest order {k + 1}")
    if plan.stones and plan.order.several is not None:
        yield list_is_met(plan)
    if plan.stones:
        yield from _saw_checks(plan, rough)
        yield from _guidance_checks(plan)
    bounds = bounds_hold(plan)
    if bounds:
        yield bounds


def _nearest_order_checks(
    plan: Plan, near: NearestOrder, rough: RoughSolid, rebuild: Rebuild, order: str
) -> Iterator[str]:
    """The stones found for an order near the plan's own meet that order."""
    for k, stone in enumerate(near.stones):
        name = f"stone {k + 1} of {order}"
        yield from _stone_checks(plan, stone, rough, rebuild, name)
        yield from _demand_checks(plan, stone, name)
    if len(near.stones) > 1:
        yield stones_are_apart([one.placement.mesh() for one in near.stones], plan.order.workshop)


def _stone_checks(
    plan: Plan, stone: Stone, rough: RoughSolid, rebuild: Rebuild, name: str
) -> Iterator[str]:
    placement = stone.placement
    yield pose_is_rigid(placement.pose, name)
    mesh = placement.mesh()
    yield is_convex_solid(mesh, name)
    yield is_the_design(stone, rebuild, name)
    skin = plan.rough.scan_error_mm + plan.asked_of(stone).workshop.clean_up_mm
    yield inside_the_rough(mesh, rough, skin, placement.clearance_mm, name)
    yield figures_are_true(stone, mesh, plan.rough.material.sg, name)


def _demand_checks(plan: Plan, stone: Stone, name: str) -> Iterator[str]:
    mesh, order = stone.placement.mesh(), plan.asked_of(stone)
    yield size_is_met(stone, mesh, order, plan.rough.material.sg, name)
    if stone.free:
        yield choice_is_met(stone, name)
    if order.zone is not None:
        yield zone_is_met(stone, mesh, plan.rough, order.zone)
    if order.direction is not None:
        yield direction_is_met(stone, mesh, plan.rough, order.direction, name)
    if order.look is not None:
        yield look_is_met(stone, mesh, plan.rough, order.look, name)
    axis = stone.placement.pose.rotation[:, 2]
    flaws = flaws_are_cleared(mesh, axis, plan.rough, name)
    if flaws:
        yield flaws
    skin = plan.rough.scan_error_mm + order.workshop.clean_up_mm
    contacts = contacts_are_real(stone, mesh, plan.rough, skin, name)
    if contacts:
        yield contacts


def _saw_checks(plan: Plan, rough: RoughSolid) -> Iterator[str]:
    saw, workshop = plan.sawing, plan.order.workshop
    stones = [stone.placement.mesh() for stone in plan.stones]
    yield pieces_form_a_tree(saw, len(stones))
    solids = piece_solids(saw, rough.solid, plan.rough.mesh)
    yield pieces_add_up(saw, solids)
    if saw.cuts:
        yield cuts_clear_stones(saw, stones, workshop)
        yield settings_are_true(saw, plan.rough.reference_faces)
    yield stones_lie_in_their_pieces(saw, stones, solids)
    if len(stones) > 1:
        yield stones_are_apart(stones, workshop)
    if saw.offcuts:
        yield offcuts_are_their_pieces(saw, solids, plan.rough.material.sg)
    fitted = fittings_fit(plan)
    if fitted:
        yield fitted


def _guidance_checks(plan: Plan) -> Iterator[str]:
    for number, (stone, home) in enumerate(
        zip(plan.stones, plan.sawing.stone_pieces, strict=True), 1
    ):
        guidance, mesh = stone.guidance, stone.placement.mesh()
        if guidance is None:
            continue
        zone = guidance.zone
        seen = zone and zone_view(stone, mesh, plan.rough, zone.zone, zone.colour)
        sawn = next(p.mesh for p in plan.sawing.pieces if p.id == home)
        sawn_ct = volume(sawn) * plan.rough.material.sg / 200.0
        yield guidance_fits(plan, stone, guidance, seen, sawn_ct, f"stone {number}")
        if guidance.direction is not None:
            yield view_is_true(stone, mesh, plan.rough, guidance.direction)
    if plan.sawing.cuts and plan.saw_guide is not None:
        yield distances_are_true(plan.saw_guide, len(plan.sawing.cuts))
