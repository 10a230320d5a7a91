"""What holds a stone where it lies: ``held_by`` in plan.json."""

from typing import Annotated

from pydantic import Field

from optimizer.documents.quantities import (
    AboutNotNegative,
    NotNegative,
    OneOf,
    PositiveLength,
    Text,
    Vector,
)
from optimizer.documents.record import Record

_GAINS = ("ct", "mm")
_STEPS = ("mm", "deg", "percent", "offset", "face_percent", "balance")
GainUnit = Annotated[str, OneOf(*_GAINS)]
StepUnit = Annotated[str, OneOf(*_STEPS)]
WorthUnit = Annotated[str, OneOf(*(f"{gain}/{step}" for gain in _GAINS for step in _STEPS))]


class ContactRecord(Record):
    """A place where the stone is held."""

    point_mm: Vector = Field(
        description="on what holds the stone; on the stone itself for a boundary"
    )
    on_stone_mm: Vector = Field(description="the stone's nearest point")
    facets: tuple[str, ...] = Field(description="facets of the stone that meet there")


class WorthRecord(Record):
    """What the first hair's breadth of giving way brings."""

    value: AboutNotNegative = Field(description="from the multipliers of a linear program")
    unit: WorthUnit


class StepRecord(Record):
    """How far something gave way when the stone was laid anew."""

    value: NotNegative
    unit: StepUnit


class GainRecord(Record):
    """What a step of giving way brought."""

    value: NotNegative
    unit: GainUnit


class ActiveConstraintRecord(Record):
    """One place of the surface, or one flaw, boundary or demand, that holds the stone."""

    kind: Annotated[str, OneOf("surface", "flaw", "boundary", "demand", "size")]
    name: Text | None = Field(
        description="of the flaw or boundary, or the demand in plain words; null for a place of "
        "the surface"
    )
    contacts: tuple[ContactRecord, ...] = Field(
        description="the most worth first; none for a demand or size"
    )
    worth: WorthRecord = Field(
        description="of the first hair's breadth of giving way; mm of clearance where the size is "
        "fixed"
    )
    step: StepRecord = Field(description="how far it gave way when the stone was laid anew")
    gain: GainRecord | None = Field(
        description="what that brought, all else as it was; null: not tried"
    )


class ActiveConstraintsRecord(Record):
    """What holds the stone where it lies, and what giving way there would bring."""

    place_radius_mm: PositiveLength = Field(
        description="the surface so near to a place's first contact gives way with it"
    )
    unbalanced_share: NotNegative = Field(
        description="of the forces that the worths are; 0 where no small move gains, and worths "
        "are rough where it is not small"
    )
    holds: tuple[ActiveConstraintRecord, ...] = Field(
        description="the greatest gain first; the size last"
    )
