"""What the cutter needs at the bench: saw distances, marks, dopping flat, dop, cut sheet."""

from collections.abc import Callable, Mapping

from optimizer.design import angle_groups, cutting_order
from optimizer.design.model import Design
from optimizer.guidance.direction import view_direction
from optimizer.guidance.distances import cut_distances
from optimizer.guidance.flat import choose_dop, dopping_flat
from optimizer.guidance.flaws import flaws_within
from optimizer.guidance.landmarks import landmark_marks, landmarks, not_real_planes
from optimizer.guidance.marks import stone_marks
from optimizer.guidance.model import Guidance, SawGuide, TierRow
from optimizer.mesh import Floats, Mesh, volume
from optimizer.order import Order
from optimizer.placement.model import Placement
from optimizer.placement.zone_view import chosen_zone, view_zone
from optimizer.rough.model import Rough
from optimizer.sawing.model import SawPlan
from optimizer.solid import as_solid
from optimizer.trade.materials import cautions_for

__all__ = ["guide", "guide_saw"]


def guide_saw(
    rough: Rough, saw_plan: SawPlan, along: Floats, stop: Callable[[], bool] = lambda: False
) -> SawGuide:
    """Marks on the rough and caliper distances for each cut, in the scan frame.

    The search around each cut's line starts in the direction in the cut nearest to ``along`` (3,).
    Once ``stop`` is true the distances, which take long, are left out.
    """
    points = landmarks(rough.mesh, not_real_planes(rough))
    return SawGuide(
        marks=landmark_marks(points) if saw_plan.cuts else (),
        distances=cut_distances(rough, saw_plan, points, along, stop),
    )


def guide(
    rough: Rough,
    design: Design,
    parameters: Mapping[str, float],
    placement: Placement,
    saw_plan: SawPlan,
    order: Order,
    number: int = 0,
) -> Guidance:
    """The guidance for one stone of a saw plan in its sawn piece, scan frame.

    ``number`` is the stone's index in the saw plan. ``order.zone``, where it is given, must name a
    zone of the rough.
    """
    home = saw_plan.stone_pieces[number]
    piece = saw_plan.pieces[home].mesh
    solid = as_solid(piece)
    flat = dopping_flat(placement, saw_plan, home, solid, order.workshop, rough.scan_error_mm)
    chosen = chosen_zone(rough.zones, order.zone)
    return Guidance(
        flat=flat,
        dop=choose_dop(placement, flat),
        marks=stone_marks(placement.pose, piece, solid),
        zone=view_zone(*chosen, placement) if chosen else None,
        tiers=cut_sheet(design, parameters, placement.pose.width),
        gear=design.gear,
        ladder=weight_ladder(rough, piece, placement),
        cautions=cautions_for(rough.material),
        direction=view_direction(rough, placement),
        flaws=flaws_within(rough, placement),
    )


def cut_sheet(
    design: Design, parameters: Mapping[str, float], width_mm: float
) -> tuple[TierRow, ...]:
    """The tiers in the order of cutting, the preform first, at these parameters, with sizes for a
    stone of this width; a row for each angle of a tier."""
    return tuple(
        TierRow(number, tier.name, tier.side, angle, settings, tier.cut_to)
        for number, tier in enumerate(cutting_order(design, parameters, width_mm), 1)
        for angle, settings in angle_groups(tier)
    )


def weight_ladder(rough: Rough, piece: Mesh, placement: Placement) -> tuple[tuple[str, float], ...]:
    """Carats of the rough, of the sawn piece that holds the stone, and of the finished stone."""
    ct_per_mm3 = rough.material.sg / 200.0
    stone = placement.body.mesh_at(placement.pose.width)
    return (
        ("rough", rough.carat),
        ("sawn", volume(piece) * ct_per_mm3),
        ("finished", volume(stone) * ct_per_mm3),
    )
