"""sawn.json: what ``kerfwise sawn`` writes."""

from typing import Annotated

from pydantic import ConfigDict, Field

from optimizer.documents.quantities import (
    Finite,
    Kerf,
    NotNegative,
    OneOf,
    Ordinal,
    Positive,
    Side,
    Text,
    Texts,
    UnitVector,
    Vector,
)
from optimizer.documents.record import Document, Record

SAWN_FORMAT = "kerfwise-sawn/1"


class KerfRecord(Record):
    """Where a cut runs: a point and the normal of the middle of its kerf."""

    point_mm: Vector
    normal: UnitVector = Field(description="of length one, towards the side above")
    kerf_mm: Kerf


class SawnPieceRecord(Record):
    """A piece that the cut left."""

    number: Ordinal
    planned_piece: Ordinal = Field(description="id of the plan's piece on that side")
    side: Side
    mesh: Annotated[str, Field(pattern=r"^pieces/[0-9]{2,}\.ply$")]
    rough_file: Annotated[str, Field(pattern=r"^pieces/[0-9]{2,}\.toml$")]
    volume_mm3: Positive
    carat: Positive = Field(description="by volume")
    weighed_carat: Positive | None
    plan: Annotated[str, Field(pattern="^plans/[0-9]{2,}$")] | None = Field(
        description="folder of the new plan; null where no stone was planned in the piece"
    )


class FateRecord(Record):
    """What became of a planned stone after the cut."""

    stone: Ordinal = Field(description="by its place in the plan's list, from 1")
    design: Text
    carat: Positive = Field(description="as planned")
    piece: Ordinal = Field(description="number of the piece that holds it now")
    below_new_face_mm: Finite = Field(
        description="from the new face to the stone as planned; negative: sawn into"
    )
    fits_as_planned: bool
    outcome: Annotated[str, OneOf("as planned", "moved", "smaller", "other design", "lost")] = (
        Field(
            description="moved: the new plan has the stone, at its weight, elsewhere in its piece"
        )
    )
    successor_carat: Positive | None = Field(
        default=None,
        description="of the new plan's stone in its place; null where it was kept or lost",
    )
    text: Text


class SawnFile(Document):
    """What `kerfwise sawn` writes to sawn.json. Millimetres, carats, degrees; points and directions
    in the scan's own frame."""

    model_config = ConfigDict(title="Kerfwise sawn cut")

    format: Annotated[str, OneOf(SAWN_FORMAT)]
    cut: Ordinal = Field(description="by its place in the plan's list, from 1")
    planned: KerfRecord
    sawn: KerfRecord
    strayed_mm: Finite = Field(
        description="at the middle of the planned cut, towards the side above"
    )
    turned_deg: NotNegative
    pieces: tuple[SawnPieceRecord, ...]
    stones: tuple[FateRecord, ...]
    notes: Texts
    warnings: Texts
