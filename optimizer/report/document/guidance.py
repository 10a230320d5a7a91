"""The guidance for marking, dopping and cutting in plan.json."""

from optimizer.documents.guidance import (
    BoundaryViewRecord,
    DirectionRecord,
    DoppingFlatRecord,
    DopRecord,
    FlawWithinRecord,
    GuidanceRecord,
    MarkRecord,
    StageRecord,
    TierRecord,
)
from optimizer.documents.quantities import vector
from optimizer.guidance.model import (
    DirectionView,
    DoppingFlat,
    FlawView,
    Guidance,
    Mark,
    TierRow,
)
from optimizer.placement.zone_view import ZoneView


def guidance_record(guidance: Guidance | None) -> GuidanceRecord | None:
    """One stone's guidance; None where the stone has none."""
    if guidance is None:
        return None
    dop = guidance.dop
    return GuidanceRecord(
        dopping_flat=_flat(guidance.flat),
        dop=DopRecord(least_mm=float(dop.least_mm), most_mm=float(dop.most_mm), text=dop.text),
        marks=tuple(map(mark_record, guidance.marks)),
        zone=_zone(guidance.zone) if guidance.zone else None,
        direction=_direction(guidance.direction) if guidance.direction else None,
        flaws_within=tuple(map(_flaw_within, guidance.flaws)),
        gear=guidance.gear,
        tiers=tuple(map(_tier, guidance.tiers)),
        ladder=tuple(
            StageRecord(stage=stage, carat=float(carat)) for stage, carat in guidance.ladder
        ),
        cautions=guidance.cautions,
    )


def mark_record(mark: Mark) -> MarkRecord:
    """A mark on the rough or on a sawn piece."""
    return MarkRecord(
        name=mark.name,
        point_mm=vector(mark.point),
        direction=None if mark.direction is None else vector(mark.direction),
        text=mark.text,
    )


def _flat(flat: DoppingFlat) -> DoppingFlatRecord:
    return DoppingFlatRecord(
        point_mm=vector(flat.plane.normal * flat.plane.offset),
        normal=vector(flat.plane.normal),
        above_table_mm=float(flat.above_table_mm),
        sawn_by=flat.sawn_by,
        depth_to_grind_mm=float(flat.depth_to_grind_mm),
        area_mm2=float(flat.area_mm2),
        centre_mm=vector(flat.centre),
        circle_mm=float(flat.circle_mm),
        text=flat.text,
    )


def _zone(view: ZoneView) -> BoundaryViewRecord:
    return BoundaryViewRecord(
        zone=view.zone,
        colour=view.colour,
        kind=view.kind,
        tilt_deg=None if view.tilt_deg is None else float(view.tilt_deg),
        azimuth_deg=None if view.azimuth_deg is None else float(view.azimuth_deg),
        offset=None if view.offset is None else float(view.offset),
        share_percent=float(view.share_percent),
    )


def _direction(view: DirectionView) -> DirectionRecord:
    return DirectionRecord(
        axes_to_table_deg={name: float(angle) for name, angle in view.axes_deg},
        cleavage_deg=None if view.cleavage_deg is None else float(view.cleavage_deg),
        cleavage_facet=view.cleavage_facet,
    )


def _flaw_within(view: FlawView) -> FlawWithinRecord:
    return FlawWithinRecord(
        flaw=view.flaw,
        crack=view.crack,
        below_table_mm=float(view.below_table_mm),
        off_axis_mm=float(view.off_axis_mm),
        azimuth_deg=view.azimuth_deg,
        reaches_surface=bool(view.reaches_surface),
    )


def _tier(row: TierRow) -> TierRecord:
    return TierRecord(
        order=row.order,
        name=row.name,
        side=row.side,
        angle_deg=float(row.angle_deg),
        settings=tuple(int(setting) for setting in row.settings),
        cut_to=row.cut_to,
    )
