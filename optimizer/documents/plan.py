"""plan.json, as ``kerfwise plan`` writes it and as it is read back."""

from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field, model_validator
from pydantic.json_schema import SkipJsonSchema

from optimizer.documents.guidance import MarkRecord
from optimizer.documents.look import BoundaryLookRecord
from optimizer.documents.quantities import Finite, Index, NotNegative, OneOf, Percent, Text, Texts
from optimizer.documents.record import Document, Record, checksum_of
from optimizer.documents.rough import RoughRecord
from optimizer.documents.sawing import CutRecord, OffcutRecord, PieceRecord
from optimizer.documents.stones import BoundRecord, NearestOrderRecord, RuledOutRecord, StoneRecord
from optimizer.documents.tree import check_tree

FORMAT = "kerfwise-plan/1"
NO_STONE = ("ruled_out_by", "nearest_orders")  # keys of a plan without a stone alone

Pieces = Annotated[tuple[PieceRecord, ...], Field(min_length=1)]
Yield = Annotated[
    Percent,
    Field(description="100·total_carat/rough.carat"),
]


class MadeByRecord(Record):
    """Which program made the plan, and how."""

    version: Text
    seed: Index
    effort: Annotated[str, OneOf("quick", "normal", "thorough")]


class ObjectiveRecord(Record):
    """The quantity that the plan maximizes."""

    kind: Annotated[str, OneOf("carat", "clearance", "money")]
    value: Finite
    unit: Text = Field(description="ct, mm, or the order's currency")


class AuditRecord(Record):
    """The independent check's sentences."""

    passed: Literal[True]
    checks: Texts


class AlternativeRecord(Record):
    """Another plan for the piece, its files in a folder of its own."""

    kind: Text
    sentence: str = Field(description="what differs from the plan")
    stones: tuple[StoneRecord, ...]
    pieces: Pieces
    offcuts: tuple[OffcutRecord, ...]
    total_carat: NotNegative
    yield_percent: Yield
    objective: ObjectiveRecord
    cuts: tuple[CutRecord, ...]
    warnings: Texts
    audit: AuditRecord
    boundary_look: BoundaryLookRecord | None

    @model_validator(mode="after")
    def _fits_together(self) -> "AlternativeRecord":
        check_tree(self.pieces, self.cuts, self.stones, self.offcuts)
        return self


def _by_status(schema: dict[str, Any]) -> None:
    """Let ruled_out_by and nearest_orders be present only where no stone was found, and checksum be
    absent."""
    schema["required"].remove("ruled_out_by")
    schema["required"].remove("nearest_orders")
    schema["required"].remove("checksum")  # older plans have none
    schema["if"] = {"properties": {"status": {"const": "found"}}}
    schema["then"] = {"properties": {"stones": {"minItems": 1}, **dict.fromkeys(NO_STONE, False)}}
    schema["else"] = {"required": ["ruled_out_by"], "properties": {"stones": {"maxItems": 0}}}


class PlanFile(Document):
    """What `kerfwise plan` writes to plan.json. Millimetres, carats, degrees; points and directions
    in the scan's own frame."""

    model_config = ConfigDict(title="Kerfwise plan", json_schema_extra=_by_status)

    format: Annotated[str, OneOf(FORMAT)]
    status: Annotated[str, OneOf("found", "not found", "impossible")] = Field(
        description="impossible only where that is proved"
    )
    interrupted: bool = Field(description="stopped early; the best found by then")
    made_by: MadeByRecord
    rough: RoughRecord
    stones: tuple[StoneRecord, ...]
    total_carat: NotNegative
    yield_percent: Yield
    objective: ObjectiveRecord
    bound: BoundRecord | None
    pieces: Pieces
    cuts: tuple[CutRecord, ...] = Field(description="in sawing order")
    offcuts: tuple[OffcutRecord, ...]
    alternatives: tuple[AlternativeRecord, ...] = Field(
        description="other plans of the same shape, where the order asks for a look; their meshes "
        "lie under alternatives/NN/"
    )
    alternatives_not_found: Texts = Field(
        description="other plans that were searched for and not found, a sentence each"
    )
    notes: Texts = Field((), description="what is known about better plans, besides the bound")
    warnings: Texts
    audit: AuditRecord
    timing_s: dict[str, NotNegative] = Field(json_schema_extra={"required": ["total"]})
    marks: tuple[MarkRecord, ...] = Field(description="on the rough, to measure the cuts from")
    boundary_look: BoundaryLookRecord | None = Field(
        description="of the one stone; null where nothing is known, and where there are several "
        "stones, each of which has its own"
    )
    ruled_out_by: tuple[RuledOutRecord, ...] | SkipJsonSchema[None] = Field(
        None, description="each demand whose removal alone gives a stone"
    )
    nearest_orders: tuple[NearestOrderRecord, ...] | SkipJsonSchema[None] = Field(
        None,
        description="where no stone was found: orders near the one given, for each of which a "
        "search found stones, the nearest first; absent in older plans",
    )
    checksum: Annotated[str, Field(pattern="^([0-9a-f]{64})?$")] = Field(
        default="",
        description="SHA-256 of all other keys but timing_s, as JSON with sorted keys, without "
        "blanks, in ASCII; absent in older plans",
    )

    @model_validator(mode="after")
    def _fits_together(self) -> "PlanFile":
        check_tree(self.pieces, self.cuts, self.stones, self.offcuts)
        if (self.status == "found") != bool(self.stones):
            raise ValueError(f'says "{self.status}" with {len(self.stones)} in its list of stones')
        if (self.status == "found") != (self.ruled_out_by is None):
            raise ValueError("must have ruled_out_by where no stone was found, and only there")
        return self

    def values(self) -> dict[str, Any]:
        """Its plain values, without the keys of a plan without a stone, and without the checksum,
        where there are none."""
        left_out = {key for key in (*NO_STONE, "checksum") if getattr(self, key) in (None, "")}
        return self.model_dump(mode="json", exclude=left_out)

    def sealed(self) -> "PlanFile":
        """The same file with its checksum, by which a later change shows."""
        return self.model_copy(update={"checksum": checksum_of(self.values())})
