"""How a stone looks face up, and what other angles or another boundary would show."""

from typing import Annotated

from pydantic import Field

from optimizer.documents.names import FacePicture
from optimizer.documents.quantities import (
    Finite,
    Interval,
    Length,
    NotNegative,
    Percent,
    Percents,
    Positive,
    PositiveLength,
    Share,
    Shares,
    Text,
    Texts,
)
from optimizer.documents.record import Record

Lightness = Annotated[float, Field(ge=0.0, le=100.5)]  # CIELAB, for a colour as bright as white


class ColourOnFaceRecord(Record):
    """How much of the face shows the colour of one side of a boundary."""

    share_percent: Percent = Field(description="of the face that shows the colour")
    halves_percent: Percents = Field(description="of the half towards +y, of the other")
    ends_percent: Percents = Field(description="of the end towards +x, of the other")
    balance_of_halves: Share = Field(description="the lesser over the greater")
    balance_of_ends: Share = Field(description="the lesser over the greater")


class ViewFiguresRecord(Record):
    """The figures of the stone seen from one direction."""

    turned_deg: Interval = Field(
        description="rocked about the axis to the right, then about the one up"
    )
    light_return_percent: Percent = Field(
        description="of an open sky's light, for a stone without colour"
    )
    window_percent: Percent = Field(description="of the face")
    extinction_percent: Percent = Field(description="of the face")
    contrast: NotNegative
    zone: ColourOnFaceRecord | None = Field(description="null without a boundary")


class ToneRecord(Record):
    """One colour of the stone, as the face shows it."""

    name: Text
    stated: bool = Field(description="false: no colour is known and the stone is shown clear")
    at_mm: PositiveLength | None = Field(
        description="the thickness stated; null: the colour's depth is an estimate"
    )
    misfit: NotNegative = Field(description="ΔE by which the absorption misses the colours stated")
    srgb: Annotated[str, Field(pattern="^#[0-9a-f]{6}$")] = Field(
        description="of a face all of this colour, on average under an open sky"
    )
    lightness: Lightness
    chroma: NotNegative


class LookRecord(Record):
    """How the stone looks face up: optimizer/optics/README.md has each figure's formula."""

    picture: FacePicture
    light: Text = Field(description="of the picture")
    boundary: Text | None
    colour: Text | None = Field(description="whose shares are given; null without a boundary")
    seen: tuple[ViewFiguresRecord, ...] = Field(
        min_length=1, description="upright first, then rocked"
    )
    colours: tuple[ToneRecord, ...] = Field(min_length=1, max_length=2)
    notes: Texts


class AnglesRecord(Record):
    """Angles of a design, and the light that a stone with these angles returns."""

    crown_deg: Finite
    pavilion_deg: Finite
    light_return_percent: Percent = Field(
        description="mean over upright and four turns of 10 degrees"
    )
    window_percent: Percent = Field(description="the worst of these turns")
    carat: Positive = Field(description="at the planned outline")


class BrighterRecord(Record):
    """Angles of the design that return markedly more light, beside those planned."""

    planned: AnglesRecord
    best: AnglesRecord


class BoundaryLookRecord(Record):
    """What the face shows with a flat colour boundary at its planned place, and near it."""

    zone: Text
    colour: Text
    shift_mm: Finite = Field(
        description="the boundary's distance from the stone's middle along its normal, positive "
        "towards the colour"
    )
    face_share: Share = Field(
        description="of the face that shows the colour, upright, under an open sky"
    )
    halves: Shares = Field(description="the same of the back and front half")
    ends: Shares = Field(description="of the right and left end")
    balance_of_halves: Share
    balance_of_ends: Share
    off_mm: Length
    off_deg: NotNegative
    face_share_range: Shares = Field(
        description="least and greatest with the boundary off by off_mm and off_deg"
    )
    balance_range: Shares
