"""The tables of an order file that say what one stone must be, checked at the border."""

import os
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from optimizer.design import NO_HEART, designs_by_outline
from optimizer.errors import nearest
from optimizer.files.border import Table, shown
from optimizer.order.demands import (
    LEAST_PLAY_PERCENT,
    MOST_BALANCE,
    MOST_DIFFERENCE,
    DirectionDemand,
    LookDemand,
    Range,
    SizeDemand,
    ZoneDemand,
)
from optimizer.wording.plain_number import plain


def as_range(value: object) -> object:
    """A single number stands for a range that holds only this number."""
    ends: list[Any] = value if isinstance(value, list) else [value, value]
    if len(ends) != 2 or any(isinstance(e, bool) or not isinstance(e, int | float) for e in ends):
        raise ValueError(f"must be a number or [least, greatest], got {shown(value)}")
    return tuple(ends)


def _rising(ends: Range) -> Range:
    if ends[0] > ends[1]:
        raise ValueError(
            f"runs backwards: {plain(ends[0])} to {plain(ends[1])}; put the lesser number first"
        )
    return ends


def _once_round(ends: Range) -> Range:
    """Require rising ends, at most a full turn apart; a range of angles may pass ±180."""
    if ends[0] > ends[1]:
        turned = f"[{plain(ends[0])}, {plain(ends[1] + 360.0)}]"
        raise ValueError(
            f"runs backwards: {plain(ends[0])} to {plain(ends[1])}; put the lesser number first, "
            f"or write {turned} for the way past 180"
        )
    if ends[1] - ends[0] > 360.0:
        raise ValueError(f"is more than a full turn: {plain(ends[0])} to {plain(ends[1])}")
    return ends


def _within(low: float, high: float) -> AfterValidator:
    def check(ends: Range) -> Range:
        if ends[0] < low or ends[1] > high:
            raise ValueError(
                f"must lie between {plain(low)} and {plain(high)}, got {plain(ends[0])} to "
                f"{plain(ends[1])}"
            )
        return ends

    return AfterValidator(check)


def _above_nothing(ends: Range) -> Range:
    if ends[1] <= 0.0:
        raise ValueError(f"must be above 0, got {plain(ends[1])}")
    return ends


ANY = "any"  # design


def as_names(value: object) -> object:
    """A single name stands for a list of one."""
    names = value if isinstance(value, list) else [value]
    if not all(isinstance(name, str) for name in names):
        raise ValueError(f"must be a name or a list of names, got {shown(value)}")
    if not names:
        raise ValueError("is an empty list; leave it out for any design")
    if twice := [name for name in names if names.count(name) > 1]:
        raise ValueError(f"names {shown(twice[0])} twice; name each design once")
    return tuple(names)


Pair = Annotated[tuple[float, float], BeforeValidator(as_range)]
Ends = Annotated[Pair, AfterValidator(_rising)]
Size = Annotated[Ends, _within(0.0, 1e4), AfterValidator(_above_nothing)]
NotNegative = Annotated[float, Field(ge=0.0, le=1e4, allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0.0, le=1e4, allow_inf_nan=False)]

Degrees = Annotated[float, Field(ge=0.0, le=180.0)]


class SizeTable(Table):
    """[size]: a number, or the least and the greatest."""

    width_mm: Size | None = None
    length_mm: Size | None = None
    carat: Size | None = None


class ZoneDemandTable(Table):
    """[zone]: how a named colour boundary of the rough must lie."""

    name: str
    colour: str
    keep_clear_mm: NotNegative | None = None
    share_percent: Annotated[Ends, _within(0.0, 100.0)] | None = None
    offset: Annotated[Ends, _within(-1.0, 1.0)] | None = None
    tilt_deg: Annotated[Ends, _within(-90.0, 90.0)] | None = None
    azimuth_deg: Annotated[Pair, _within(-360.0, 360.0), AfterValidator(_once_round)] | None = None

    @model_validator(mode="after")
    def _consistent(self) -> "ZoneDemandTable":
        asked = self.model_dump(exclude={"name", "colour"}, exclude_none=True)
        if not asked:
            known = ", ".join(self._demands())
            raise ValueError(f"asks nothing about the boundary; add one of {known}")
        crossing = asked.keys() & {"share_percent", "offset"}
        if self.keep_clear_mm is not None and crossing:
            raise ValueError(
                "keeps clear of the boundary (keep_clear_mm) and lets it cross "
                f"({', '.join(sorted(crossing))}): keep one"
            )
        return self

    @classmethod
    def _demands(cls) -> list[str]:
        return [key for key in cls.model_fields if key not in ("name", "colour")]


class DirectionTable(Table):
    """[direction]: how the optic axis, the growth axis or cleavage must lie in the stone."""

    axis: Literal["optic axis", "growth axis"] = "optic axis"
    axis_to_table_deg: Annotated[Ends, _within(0.0, 90.0)] | None = None
    cleavage_clear_deg: Annotated[float, Field(ge=0.0, le=45.0)] | None = None

    @model_validator(mode="after")
    def _asks_something(self) -> "DirectionTable":
        if self.axis_to_table_deg is None and self.cleavage_clear_deg is None:
            raise ValueError("asks for nothing; add axis_to_table_deg or cleavage_clear_deg")
        return self


Balance = Annotated[float, Field(ge=0.0, le=1.0)]
Percent = Annotated[float, Field(ge=0.0, le=100.0)]


class LookTable(Table):
    """[look]: what the finished stone must show face up."""

    zone: str | None = None
    colour: str | None = None
    face_percent: Annotated[Ends, _within(0.0, 100.0)] | None = None
    balance_of_halves: Balance | None = None
    balance_of_ends: Balance | None = None
    difference_of_ends: Balance | None = None
    light_return_percent: Percent | None = None
    window_percent: Percent | None = None
    light_loss_percent: Percent | None = None

    @property
    def asked(self) -> LookDemand | None:
        """The demand on the look; None where the table only says what light may be lost."""
        asked = LookDemand(**self.model_dump(exclude={"light_loss_percent"}))
        return None if asked == LookDemand() else asked

    @model_validator(mode="after")
    def _consistent(self) -> "LookTable":
        asked = self.asked or LookDemand()
        only_loss = self.asked is None and self.light_loss_percent is not None
        if not asked.of_colour and not asked.of_light and not only_loss:
            known = [key for key in type(self).model_fields if key not in ("zone", "colour")]
            raise ValueError(f"asks for nothing; add one of {', '.join(known)}")
        named = self.zone is not None and self.colour is not None
        if asked.of_colour and not named:
            raise ValueError("asks for a colour's share or balance: add zone and colour")
        if not asked.of_colour and (self.zone is not None or self.colour is not None):
            raise ValueError(
                "names a zone or colour but asks nothing about it; add face_percent, a balance or "
                "difference_of_ends"
            )
        _refuse_too_close(asked)
        return self


def _refuse_too_close(asked: LookDemand) -> None:
    """Raises ValueError where a figure is ordered more closely than it can be measured or cut."""
    for key in ("balance_of_halves", "balance_of_ends"):
        if (getattr(asked, key) or 0.0) > MOST_BALANCE:
            raise ValueError(
                f"{key} is {plain(getattr(asked, key))}: no two sides come out exactly alike, and "
                f"a balance is known to 0.02 at best; ask for {plain(MOST_BALANCE)} or less"
            )
    _refuse_too_different(asked)
    if asked.face_percent is None:
        return
    low, high = asked.face_percent
    beside_an_end = low == 0.0 or high == 100.0
    play = LEAST_PLAY_PERCENT / 2.0 if beside_an_end else LEAST_PLAY_PERCENT
    if high - low < play:
        raise ValueError(
            f"face_percent is {plain(low)} to {plain(high)}: a share of the face is known to 1 % "
            f"at best; leave at least {plain(play)} % between its ends, such as [48, 52]; for a "
            "stone all of one colour give keep_clear_mm in [zone]"
        )


def _refuse_too_different(asked: LookDemand) -> None:
    """Raises ValueError where the ends can't differ as much as ordered."""
    least = asked.difference_of_ends or 0.0
    if least > MOST_DIFFERENCE:
        raise ValueError(
            f"difference_of_ends is {plain(least)}: light carries some colour to either end, and a "
            f"difference is known to 0.02 at best; ask for {plain(MOST_DIFFERENCE)} or less"
        )
    balance = asked.balance_of_ends or 0.0
    if least > 1.0 - balance + 1e-9:  # of rounding
        raise ValueError(
            f"balance_of_ends = {plain(balance)} asks for ends that are alike and "
            f"difference_of_ends = {plain(least)} for ends that differ: ends so alike differ by "
            f"{plain(1.0 - balance)} at most; drop one of the two"
        )


class StoneTable(Table):
    """The keys on one stone, which an order and each of its [[wanted]] have in common."""

    design: Annotated[tuple[str, ...], BeforeValidator(as_names)] = ()
    outline: Annotated[tuple[str, ...], BeforeValidator(as_names)] = ()
    parameters: dict[str, Ends] = Field(default_factory=dict)
    size: SizeTable | None = None
    zone: ZoneDemandTable | None = None
    direction: DirectionTable | None = None
    look: LookTable | None = None

    @model_validator(mode="after")
    def _designs_that_are_known(self) -> "StoneTable":
        if self.design and self.outline:
            raise ValueError("names designs and outlines: keep one of design and outline")
        if ANY in self.design and len(self.design) > 1:
            raise ValueError(f"names {shown(ANY)} beside other designs: keep one of them")
        known = designs_by_outline() if self.outline else {}
        for name in self.outline:
            if name == "heart":
                raise ValueError(f"names the outline {shown(name)}: {NO_HEART}")
            if name == ANY:
                raise ValueError('names any outline: leave it out, or write design = "any"')
            if name not in known:
                raise ValueError(f"names the unknown outline {shown(name)}; {nearest(name, known)}")
        return self

    @model_validator(mode="after")
    def _one_zone(self) -> "StoneTable":
        same_zone(self.look, self.zone)
        return self

    def demands(self, file: Path) -> dict[str, Any]:
        """The demands under the names of an order's fields. Paths of the user's own designs are
        relative to the folder of ``file``."""
        size, zone, direction, look = self.size, self.zone, self.direction, self.look
        return {
            "designs": self._designs(file),
            "parameters": {
                name: ends if ends[0] < ends[1] else ends[0]
                for name, ends in self.parameters.items()
            },
            "size": None if size is None else SizeDemand(**size.model_dump()),
            "zone": None if zone is None else ZoneDemand(**zone.model_dump()),
            "direction": None if direction is None else DirectionDemand(**direction.model_dump()),
            "look": None if look is None else look.asked,
        }

    def _designs(self, file: Path) -> tuple[str, ...]:
        if self.outline:
            known = designs_by_outline()
            return tuple(name for outline in self.outline for name in known[outline])
        if self.design == (ANY,):
            return ()
        return tuple(dict.fromkeys(_beside(file, name) for name in self.design))


def same_zone(
    look: LookTable | LookDemand | None, zone: ZoneDemandTable | ZoneDemand | None
) -> None:
    """Require that [look] and [zone] are about the same boundary and colour. Raises ValueError."""
    if look is None or look.zone is None or zone is None:
        return
    if (look.zone, look.colour) != (zone.name, zone.colour):
        raise ValueError(
            f"[look] asks about the {look.colour} of {shown(look.zone)} and [zone] about the "
            f"{zone.colour} of {shown(zone.name)}: name the same in both"
        )


def _beside(order: Path, design: str) -> str:
    """The full path of the user's own design file; a name from the library stays as it is."""
    return os.path.abspath(order.parent / design) if design.endswith(".toml") else design
