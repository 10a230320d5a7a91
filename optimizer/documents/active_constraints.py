"""The active constraints of a stone, which hold it in its place: ``held_by`` in plan.json."""

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
    """The sensitivity: what the stone gains per unit by which the constraint is loosened."""

    value: AboutNotNegative = Field(description="from the multipliers of a linear program")
    unit: WorthUnit


class StepRecord(Record):
    """By how much the constraint was loosened when the stone was placed again."""

    value: NotNegative
    unit: StepUnit


class GainRecord(Record):
    """What the stone gained when the constraint was loosened."""

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
        description="the one of most worth first; none for a demand or size"
    )
    worth: WorthRecord = Field(
        description="what the stone gains at first per unit by which this is loosened; mm of "
        "clearance where the size is fixed"
    )
    step: StepRecord = Field(
        description="by how much it was loosened when the stone was placed again"
    )
    gain: GainRecord | None = Field(
        description="what the stone gained by that, all else unchanged; null: not tried"
    )


class ActiveConstraintsRecord(Record):
    """What holds the stone in its place, and what loosening it would gain."""

    place_radius_mm: PositiveLength = Field(
        description="the surface within this distance of a place's first contact is loosened with "
        "it"
    )
    unbalanced_share: NotNegative = Field(
        description="the part of the worths, taken as forces, that does not cancel out: 0 where no "
        "small move gains; where it is not small, the worths are rough"
    )
    holds: tuple[ActiveConstraintRecord, ...] = Field(
        description="the greatest gain first; the size last"
    )
