"""What the cutter needs at the bench: marks, dopping flat, cut sheet, and how the stone lies."""

from typing import Annotated

from pydantic import Field

from optimizer.documents.quantities import (
    Acute,
    Finite,
    Index,
    Length,
    NotNegative,
    OneOf,
    Ordinal,
    Percent,
    Text,
    Texts,
    UnitVector,
    Vector,
)
from optimizer.documents.record import Record


class MarkRecord(Record):
    """A place to mark on the surface: a point, or a line that runs through a point."""

    name: Text
    point_mm: Vector
    direction: UnitVector | None
    text: Text


class DoppingFlatRecord(Record):
    """The face parallel to the table on which the stone is dopped first."""

    point_mm: Vector
    normal: UnitVector = Field(description="of length one")
    above_table_mm: Finite
    sawn_by: Index | None = Field(description="index into cuts; null: ground")
    depth_to_grind_mm: Length
    area_mm2: NotNegative
    centre_mm: Vector
    circle_mm: Length = Field(description="largest circle about the axis that lies on the flat")
    text: Text


class DopRecord(Record):
    """Which dop to take: diameters."""

    least_mm: Length
    most_mm: Length
    text: Text


class BoundaryViewRecord(Record):
    """A colour boundary as it lies in the finished stone."""

    zone: Text
    colour: Text
    kind: Text = Field(description="only a plane has tilt, azimuth and offset")
    tilt_deg: Annotated[float, Field(ge=-90.0, le=90.0)] | None
    azimuth_deg: Annotated[float, Field(ge=-180.0, le=180.0)] | None = Field(
        description="null within 1 degree of tilt ±90"
    )
    offset: Finite | None
    share_percent: Percent


class DirectionRecord(Record):
    """How the crystal lies in the stone."""

    axes_to_table_deg: dict[Annotated[str, OneOf("optic axis", "growth axis")], Acute] = Field(
        description="0: the table is parallel to the axis, 90: square to it"
    )
    cleavage_deg: Acute | None = Field(
        description="of the nearest facet to a cleavage plane; null: unknown"
    )
    cleavage_facet: Text | None


class FlawWithinRecord(Record):
    """The part of a flaw that lies in the stone, for a flaw allowed off the table."""

    flaw: Text
    crack: bool
    below_table_mm: Finite = Field(description="from the table's level to the flaw's highest part")
    off_axis_mm: Length = Field(
        description="from the stone's axis to the middle of what lies in the stone"
    )
    azimuth_deg: Finite | None = Field(
        description="of that middle in the stone frame; null: on the axis"
    )
    reaches_surface: bool


class TierRecord(Record):
    """One line of the cut sheet."""

    order: Ordinal
    name: Text
    side: Annotated[str, OneOf("crown", "girdle", "pavilion", "table")]
    angle_deg: Acute
    settings: tuple[Index, ...]
    cut_to: Text


class StageRecord(Record):
    """A weight on the way from rough to finished."""

    stage: Text
    carat: NotNegative


class GuidanceRecord(Record):
    """One stone's marks, dop, cut sheet, and the weights on the way."""

    dopping_flat: DoppingFlatRecord
    dop: DopRecord
    marks: tuple[MarkRecord, ...]
    zone: BoundaryViewRecord | None
    direction: DirectionRecord | None
    flaws_within: tuple[FlawWithinRecord, ...] = Field(
        description="the parts of flaws, allowed off the table, that lie in the finished stone"
    )
    gear: Ordinal
    tiers: tuple[TierRecord, ...]
    ladder: tuple[StageRecord, ...]
    cautions: Texts
