"""Finished stones: their shape, pose, weight and bound."""

from typing import Annotated

from pydantic import Field

from optimizer.documents.active_constraints import ActiveConstraintsRecord
from optimizer.documents.guidance import GuidanceRecord
from optimizer.documents.look import BoundaryLookRecord, BrighterRecord, LookRecord
from optimizer.documents.names import StoneMesh
from optimizer.documents.quantities import (
    Finite,
    Index,
    Interval,
    Length,
    NotNegative,
    Positive,
    PositiveLength,
    Rotation,
    Text,
    Texts,
    Vector,
    Weights,
)
from optimizer.documents.record import Record


class PlacedDesignRecord(Record):
    """A design with its parameters, and where it is placed."""

    design: Text = Field(description="name of the design")
    parameters: dict[str, Finite] = Field(description="enough to rebuild the body from the design")
    rotation: Rotation = Field(description="rows of R in x_scan = translation + R·x_stone")
    translation_mm: Vector
    length_mm: PositiveLength
    width_mm: PositiveLength
    depth_mm: PositiveLength


class ShapeRecord(PlacedDesignRecord):
    """A stone's shape, pose and weight."""

    girdle_mm: Length = Field(description="the thinnest place of the band")
    volume_mm3: Positive
    carat: Positive


class FreeParameterRecord(Record):
    """A parameter that was free."""

    range: Interval
    usual: Finite = Field(
        description="may lie outside the range where the order leaves less than the design"
    )
    step: Positive = Field(
        description="the chosen value is a multiple of this, unless it is an end of the range"
    )


class CoversRecord(Record):
    """The designs and parameters for which a bound holds."""

    designs: Texts
    parameters: dict[str, dict[str, Finite | Interval]] = Field(
        description="of each design: a number, or the [least, greatest] of a range that is fully "
        "covered"
    )


class BoundRecord(Record):
    """A weight that no stone exceeds."""

    carat: NotNegative = Field(
        description="no stone of the covered designs that meets the demands under uses weighs more"
    )
    gap_percent: Finite | None = Field(description="100·(bound/carat − 1); null without a stone")
    covers: CoversRecord
    uses: Texts
    ignores: Texts


class StoneRecord(ShapeRecord):
    """A finished stone of the plan."""

    carat_range: Weights = Field(
        description="for the scan's error, the scale's included, and the range of specific "
        "gravity; of a stone as wide as ordered, for the hands' error in place of the scan's"
    )
    clearance_mm: Length = Field(description="stone to surface, rounded down")
    mesh: StoneMesh
    piece: Index = Field(description="id of the piece that holds it")
    free_parameters: dict[str, FreeParameterRecord] = Field(
        description="parameters that were free; their chosen values are under parameters"
    )
    usual_carat: Positive | None = Field(
        description="weight of the best stone found with the usual values of the free parameters, "
        "or the nearest in their ranges; null where none is free or none was found"
    )
    bound: BoundRecord | None
    held_by: ActiveConstraintsRecord | None = Field(
        description="null where the search was stopped before this was worked out"
    )
    look: LookRecord | None = Field(
        description="how it looks face up; null where this was not worked out"
    )
    boundary_look: BoundaryLookRecord | None = Field(
        None,
        description="what its face shows with a flat colour boundary at its planned place and near "
        "it; null where nothing is known, and in older plans",
    )
    brighter: BrighterRecord | None = Field(
        description="angles of the design that return markedly more light, beside those planned; "
        "null where there are none or they were not searched for"
    )
    guidance: GuidanceRecord | None
    wanted: str = Field(
        "",
        description="which of the order's wanted stones it is; empty where the order asks for one "
        "stone",
    )
    money: NotNegative | None = Field(None, description="its price by the order's [[prices]]")


class RuledOutRecord(Record):
    """A demand whose removal alone gives a stone, and that stone."""

    demand: Text
    stone: ShapeRecord


Value = Finite | tuple[Finite, Finite] | Text | None


class OrderChangeRecord(Record):
    """A demand of the order file with another value."""

    wanted: str = Field(description="name of the [[wanted]] entry; empty outside these")
    table: str = Field(description="of the order file or entry; empty for its head")
    key: str = Field(description="of the table; empty for the whole table or entry")
    ordered: Value = Field(description="a number, [least, greatest] or a name; null for a table")
    works: Value = Field(description="as ordered; null where the demand is left out")


class NearestOrderRecord(Record):
    """An order near the one given, and the stones that a search found for it."""

    changes: Annotated[tuple[OrderChangeRecord, ...], Field(min_length=1)]
    stones: Annotated[tuple[ShapeRecord, ...], Field(min_length=1)]
