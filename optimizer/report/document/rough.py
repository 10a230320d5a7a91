"""The piece of rough in plan.json."""

import math

from optimizer.documents.names import flaw_mesh
from optimizer.documents.quantities import rows, vector
from optimizer.documents.rough import FlawRecord, MeasuredRecord, RoughRecord, ScaleRecord
from optimizer.rough.model import ALLOWED_NOWHERE, ALLOWED_OFF_TABLE, Flaw, Readings, Rough, Scale
from optimizer.rough.scale.weighing import sg_span


def rough_record(rough: Rough) -> RoughRecord:
    """The solid that was planned in, and what is known of the piece."""
    return RoughRecord(
        scan=rough.scan,
        name=rough.title,
        measured=_measured(rough.readings),
        triangles=len(rough.mesh.faces),
        mm_per_unit=float(rough.mm_per_unit),
        watertight_as_read=bool(rough.watertight_as_read),
        repairs=tuple(repair.sentence for repair in rough.repairs),
        volume_mm3=float(rough.volume_mm3),
        carat=float(rough.carat),
        weighed_carat=rough.weighed_ct,
        material=rough.material.name,
        sg=float(rough.material.sg),
        sg_range=tuple(float(end) for end in sg_span(rough)),
        scan_error_mm=float(rough.scan_error_mm),
        scale=_scale(rough.scale),
        flaws=tuple(_flaw(flaw, number) for number, flaw in enumerate(rough.flaws)),
    )


def _measured(readings: Readings | None) -> MeasuredRecord | None:
    return None if readings is None else MeasuredRecord(form=readings.form, notes=readings.notes)


def _scale(scale: Scale) -> ScaleRecord:
    return ScaleRecord(
        by=scale.source, error_percent=100.0 * scale.error, correction=float(scale.correction)
    )


def _flaw(flaw: Flaw, number: int) -> FlawRecord:
    return FlawRecord(
        name=flaw.name,
        points_mm=rows(flaw.ends),
        normal=None if flaw.normal is None else vector(flaw.normal),
        across_mm=float(flaw.across_mm) if 0.0 < flaw.across_mm < math.inf else None,
        radius_mm=float(flaw.radius_mm),
        clearance_mm=float(flaw.clearance_mm),
        mesh=None if flaw.mesh is None else flaw_mesh(number),
        allowed=ALLOWED_OFF_TABLE if flaw.off_table else ALLOWED_NOWHERE,
    )
