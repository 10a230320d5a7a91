"""The piece of rough in plan.json."""

from typing import Annotated

from pydantic import Field, model_validator

from optimizer.documents.names import FlawMesh
from optimizer.documents.quantities import (
    Length,
    NotNegative,
    OneOf,
    Positive,
    PositiveLength,
    Text,
    Texts,
    UnitVector,
    Vector,
    Weights,
)
from optimizer.documents.record import Record
from optimizer.wording.plain_number import plain


class MeasuredRecord(Record):
    """A piece that was built from caliper readings."""

    form: Text
    notes: Texts = Field(description="the frame, the assumptions, what the scan error consists of")


class ScaleRecord(Record):
    """How the scan's numbers became millimetres."""

    by: Annotated[str, OneOf("unit", "known distance", "weight", "readings")] = Field(
        description="what mm_per_unit comes from"
    )
    error_percent: NotNegative = Field(description="how far lengths may be off because of it")
    correction: Positive = Field(
        description="the factor on lengths that the rough file asked for; included in mm_per_unit"
    )


class FlawRecord(Record):
    """An inclusion or a crack that the stone keeps clear of."""

    name: Text
    points_mm: tuple[Vector, ...] = Field(
        min_length=1,
        max_length=2,
        description="a point, the middle of a crack, or a point within a mesh; the two ends of a "
        "line",
    )
    normal: UnitVector | None = Field(description="square to a crack; null: no crack")
    across_mm: PositiveLength | None = Field(
        description="a crack's diameter; null: no crack, or one that parts the whole piece"
    )
    radius_mm: Length = Field(description="how far the flaw reaches about its points")
    clearance_mm: PositiveLength = Field(description="kept by the stone beyond that")
    mesh: FlawMesh | None = Field(description="the flaw's own shape, in mm; null: none")
    allowed: Annotated[str, OneOf("nowhere in the stone", "off the table")] = Field(
        description="where in the stone the flaw may lie: off the table, the clearance is kept "
        "only by what lies straight below the table"
    )


class RoughRecord(Record):
    """The closed solid that was planned in, and what is known of the piece."""

    scan: Annotated[str, Field(pattern="^[^/]+$")] = Field(description="file name, no folder")
    name: str = Field(default="", description="what headings and labels call the piece")
    measured: MeasuredRecord | None = Field(
        description="built from caliper readings; scan is then the rough file; null where it was "
        "scanned"
    )
    triangles: Annotated[int, Field(ge=4)]
    mm_per_unit: Positive
    watertight_as_read: bool
    repairs: Texts
    volume_mm3: Positive
    carat: Positive = Field(description="volume_mm3·sg / 200")
    weighed_carat: Positive | None
    material: Text
    sg: Positive
    sg_range: Weights = Field(
        description="the range of the stone's specific gravity, by species and weighing"
    )
    scan_error_mm: Length = Field(
        description="how far the surface may be off, the scale's error included"
    )
    scale: ScaleRecord
    flaws: tuple[FlawRecord, ...] = Field(description="what the stone keeps clear of")

    @model_validator(mode="after")
    def _weighs_as_its_volume(self) -> "RoughRecord":
        carat = self.volume_mm3 * self.sg / 200.0
        if abs(self.carat - carat) > 1e-9 * carat:
            raise ValueError(
                f"says {plain(self.carat, 6)} carat; its volume and specific gravity give "
                f"{plain(carat, 6)}"
            )
        return self
