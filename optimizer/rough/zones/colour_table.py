"""How a colour shows through the stone, as rough files state it, and writing it."""

from typing import Annotated, Any

from pydantic import Field, model_validator

from optimizer.files.border import FileName, OneLine, Table
from optimizer.rough.model import Colour, Slice
from optimizer.rough.rough_file.keys import Srgb

MOST_SLICES = 8

Thickness = Annotated[float, Field(gt=0, le=1000)]


class SliceTable(Table):
    """The colour of a slice before white: stated, or read from a photo on white paper."""

    mm: Annotated[Thickness, Field(examples=[2.0])]
    srgb: Srgb | None = None
    photo: FileName | None = None

    @model_validator(mode="after")
    def _one_of_them(self) -> "SliceTable":
        if (self.srgb is None) == (self.photo is None):
            raise ValueError("must have either srgb or photo")
        return self


class BodyColourTable(Table):
    """A colour by name and how it shows."""

    colour: OneLine
    srgb: Srgb | None = None
    shows_at_mm: Thickness | None = None
    slices: Annotated[list[SliceTable], Field(max_length=MOST_SLICES)] = Field(default_factory=list)
    axis_srgb: Annotated[list[Srgb], Field(min_length=2, max_length=3)] | None = None

    @model_validator(mode="after")
    def _consistent(self) -> "BodyColourTable":
        if self.shows_at_mm is not None and self.srgb is None and self.axis_srgb is None:
            raise ValueError("has shows_at_mm without the colour that shows there: add srgb")
        if self.axis_srgb is not None and self.slices:
            raise ValueError("has axis_srgb and slices, which both say how it shows: keep one")
        return self

    def as_colour(self, grey: str) -> Colour:
        """``grey`` is drawn where no colour is stated."""
        if self.axis_srgb is not None:
            by_axis = tuple(Slice(srgb, self.shows_at_mm) for srgb in self.axis_srgb)
            return Colour(self.colour, self.srgb or by_axis[-1].srgb, by_axis=by_axis)
        slices = [Slice(one.srgb, one.mm) for one in self.slices if one.srgb is not None]
        if self.srgb is not None and self.shows_at_mm is not None:
            slices.insert(0, Slice(self.srgb, self.shows_at_mm))
        drawn = self.srgb or (slices[0].srgb if slices else grey)
        return Colour(self.colour, drawn, tuple(slices))


def colour_keys(colour: Colour) -> dict[str, Any]:
    """The table of a rough file that ``as_colour`` reads back as ``colour``."""
    keys: dict[str, Any] = {"colour": colour.name, "srgb": colour.srgb}
    if colour.by_axis:
        return {
            **keys, "shows_at_mm": colour.by_axis[0].mm,
            "axis_srgb": [one.srgb for one in colour.by_axis],
        }  # fmt: skip
    first, *others = colour.slices or (None,)
    if first is not None and first.srgb == colour.srgb:
        keys["shows_at_mm"] = first.mm
    else:
        others = list(colour.slices)
    if others:
        keys["slices"] = [{"mm": one.mm, "srgb": one.srgb} for one in others if one is not None]
    return keys
