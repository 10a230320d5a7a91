"""Pieces, cuts and offcuts."""

import math
from typing import Annotated

from pydantic import Field, model_validator

from optimizer.documents.names import OffcutFile, OffcutLabel, OffcutMesh, PieceMesh
from optimizer.documents.quantities import (
    AboutNotNegative,
    Acute,
    Finite,
    Index,
    Kerf,
    Length,
    Positive,
    Side,
    Text,
    UnitVector,
    Vector,
)
from optimizer.documents.record import Record
from optimizer.documents.stones import PlacedDesignRecord
from optimizer.wording.plain_number import plain

SAME_MM = 1e-3  # of a distance: far under what a caliper reads, far over any rounding


class PieceRecord(Record):
    """A piece of the rough; 0 is the rough itself, before the first cut."""

    id: Index = Field(description="0 is the rough")
    from_cut: Index | None = Field(description="index into cuts")
    side: Side | None
    mesh: PieceMesh
    carat: AboutNotNegative = Field(description="by volume; may be 0 for crumbs")


class FenceRecord(Record):
    """The flat of the piece that guides it."""

    face: Text
    square: bool = Field(
        description="true: the cut is square to the face, which lies on the saw's table; false: "
        "the cut is parallel to the face, which lies against the fence"
    )
    mm: Finite | None = Field(description="from a parallel face to the near side of the kerf")


class DistanceRecord(Record):
    """A reading of a caliper or a height gauge."""

    start: Text
    end: Text
    start_mm: Vector
    end_mm: Vector
    mm: Length = Field(description="from start_mm to end_mm")
    how: Text

    @model_validator(mode="after")
    def _between_its_points(self) -> "DistanceRecord":
        apart = math.dist(self.start_mm, self.end_mm)
        if abs(apart - self.mm) > SAME_MM:
            raise ValueError(
                f"says {plain(self.mm)} mm, and its points lie {plain(apart)} mm apart"
            )
        return self


class CutRecord(Record):
    """One saw cut right through a piece; the plane is the middle of the kerf."""

    piece: Index
    below: Annotated[tuple[Index, ...], Field(min_length=1)]
    above: Annotated[tuple[Index, ...], Field(min_length=1)] = Field(
        description="pieces on the side that the normal points to"
    )
    point_mm: Vector
    normal: UnitVector = Field(description="of length one")
    kerf_mm: Kerf
    depth_mm: Length = Field(description="how far the blade must reach, from each of the sides")
    sides: Annotated[int, Field(ge=1, le=2)] = Field(1, description="from which the piece is sawn")
    fence: FenceRecord | None = Field(
        None,
        description="the flat of the piece that guides it; null where none is parallel or square "
        "to the cut",
    )
    last_face: Text | None = Field(None, description="the face sawn last of those on the piece")
    angle_to_last_deg: Acute | None = None
    reason: Text
    distances: tuple[DistanceRecord, ...] = Field(
        (), description="caliper readings to find and to check the cut"
    )


class OutlineRecord(Record):
    """The outline of a calibrated size."""

    outline: Text


class FittingRecord(PlacedDesignRecord, OutlineRecord):  # pydantic lists the last one's keys first
    """A stone of a usual size that an offcut could still give."""

    clearance_mm: Length = Field(description="to the offcut's surface, rounded down")
    carat: Positive


class OffcutRecord(Record):
    """A piece that holds no stone of this order and is kept."""

    piece: Index
    mesh: OffcutMesh
    rough_file: OffcutFile
    label: OffcutLabel
    volume_mm3: Positive
    carat: Positive
    could_give: tuple[FittingRecord, ...] | None = Field(
        description="the largest usual (calibrated) size found of each outline, heaviest first; "
        "null where it was not searched, since only the heaviest offcuts are"
    )
