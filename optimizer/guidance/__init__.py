"""What the hands need: saw distances, marks, dopping flat, dop, cut sheet, weights on the way."""

from collections.abc import Callable, Mapping

from optimizer.design import tiers
from optimizer.design.model import Design
from optimizer.guidance.direction import view_direction
from optimizer.guidance.distances import cut_distances
from optimizer.guidance.flat import choose_dop, dopping_flat
from optimizer.guidance.flaws import flaws_within
from optimizer.guidance.landmarks import landmark_marks, landmarks
from optimizer.guidance.marks import stone_marks
from optimizer.guidance.model import Guidance, TierRow
from optimizer.guidance.zone import chosen_zone, view_zone
from optimizer.materials import cautions_for
from optimizer.mesh import Mesh, volume
from optimizer.order import Order, Workshop
from optimizer.placement.model import Placement
from optimizer.rough.model import Rough
from optimizer.sawing.model import SawPlan
from optimizer.solid import as_solid

__all__ = ["guide"]


def guide(
    rough: Rough,
    design: Design,
    parameters: Mapping[str, float],
    placement: Placement,
    saw_plan: SawPlan,
    workshop: Workshop,
    order: Order,
    stop: Callable[[], bool] = lambda: False,
) -> Guidance:
    """All that the hands need for the one stone of a saw plan, in the scan frame.

    ``order.zone`` must name a zone of the rough where it is given. Once ``stop`` is true the
    caliper distances of the cuts, which take longest, are left out.
    """
    piece = saw_plan.pieces[saw_plan.stone_pieces[0]].mesh
    solid = as_solid(piece)
    flat = dopping_flat(placement, saw_plan, solid, workshop, rough.scan_error_mm)
    points = landmarks(rough.mesh)
    seen = chosen_zone(rough.zones, order.zone)
    return Guidance(
        flat=flat,
        dop=choose_dop(placement, flat),
        marks=(
            *(landmark_marks(points) if saw_plan.cuts else ()),
            *stone_marks(placement.pose, piece, solid),
        ),
        cut_distances=cut_distances(rough, saw_plan, points, placement.pose.rotation[:, 0], stop),
        zone=view_zone(*seen, placement) if seen else None,
        tiers=cut_sheet(design, parameters),
        gear=design.gear,
        ladder=weight_ladder(rough, piece, placement),
        cautions=cautions_for(rough.material),
        direction=view_direction(rough, placement),
        flaws=flaws_within(rough, placement),
    )


def cut_sheet(design: Design, parameters: Mapping[str, float]) -> tuple[TierRow, ...]:
    """The design's tiers in the order of cutting, with their angles at these parameters."""
    return tuple(
        TierRow(number, tier.name, tier.side, tier.angle_deg, tier.settings, tier.cut_to)
        for number, tier in enumerate(tiers(design, parameters), 1)
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
