"""The order file and the workshop file: TOML, checked at the border."""

import math
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from optimizer.border import Table, checked, read_toml, shown
from optimizer.order import (
    DirectionDemand,
    LookDemand,
    Order,
    Range,
    SizeDemand,
    Workshop,
    ZoneDemand,
)

_EXAMPLE = Path(__file__).with_name("order_example.toml")


def _as_range(value: object) -> object:
    """A single number means that very number."""
    ends: list[Any] = value if isinstance(value, list) else [value, value]
    if len(ends) != 2 or any(isinstance(e, bool) or not isinstance(e, int | float) for e in ends):
        raise ValueError(f"must be a number or [least, greatest], got {shown(value)}")
    if not all(math.isfinite(end) for end in ends):
        raise ValueError(f"must be finite, got {shown(value)}")
    return tuple(ends)


def _rising(ends: Range) -> Range:
    if ends[0] > ends[1]:
        raise ValueError(f"runs backwards: {ends[0]:g} to {ends[1]:g}; put the lesser number first")
    return ends


def _once_round(ends: Range) -> Range:
    """Angles go round: a range may pass ±180, and then says so by numbers that rise."""
    if ends[0] > ends[1]:
        turned = f"[{ends[0]:g}, {ends[1] + 360.0:g}]"
        raise ValueError(
            f"runs backwards: {ends[0]:g} to {ends[1]:g}; put the lesser number first, or write "
            f"{turned} for the way past 180"
        )
    if ends[1] - ends[0] > 360.0:
        raise ValueError(f"runs more than once round: {ends[0]:g} to {ends[1]:g}")
    return ends


def _within(low: float, high: float) -> AfterValidator:
    def check(ends: Range) -> Range:
        if ends[0] < low or ends[1] > high:
            raise ValueError(
                f"must lie between {low:g} and {high:g}, got {ends[0]:g} to {ends[1]:g}"
            )
        return ends

    return AfterValidator(check)


def _above_nothing(ends: Range) -> Range:
    if ends[1] <= 0.0:
        raise ValueError(f"must be above 0, got {ends[1]:g}")
    return ends


def _as_tuple(value: object) -> object:
    names = value if isinstance(value, list) else [value]
    if not all(isinstance(name, str) for name in names):
        raise ValueError(f"must be a name or a list of names, got {shown(value)}")
    if not names:
        raise ValueError("names no design; leave it out for any design")
    return tuple(names)


def _table_or_file(value: object) -> object:
    if not isinstance(value, dict | str):
        raise ValueError(f"must be a table or the name of a workshop file, got {shown(value)}")
    return value


Pair = Annotated[tuple[float, float], BeforeValidator(_as_range)]
Ends = Annotated[Pair, AfterValidator(_rising)]
Size = Annotated[Ends, _within(0.0, 1e4), AfterValidator(_above_nothing)]
NotNegative = Annotated[float, Field(ge=0.0, le=1e4, allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0.0, le=1e4, allow_inf_nan=False)]


class SizeTable(Table):
    """[size]: a number, or the least and the greatest."""

    width_mm: Size | None = None
    length_mm: Size | None = None
    carat: Size | None = None


class GirdleTable(Table):
    """[girdle]: the thinnest band that is allowed."""

    least_mm: NotNegative = Order.least_girdle_mm
    least_percent: Annotated[float, Field(ge=0.0, le=30.0)] = Order.least_girdle_percent


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
            raise ValueError(f"asks for nothing of the boundary; add one of {known}")
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


Part = Annotated[float, Field(ge=0.0, le=1.0)]
Percent = Annotated[float, Field(ge=0.0, le=100.0)]


class LookTable(Table):
    """[look]: what the finished stone must show face up."""

    zone: str | None = None
    colour: str | None = None
    face_percent: Annotated[Ends, _within(0.0, 100.0)] | None = None
    balance_of_halves: Part | None = None
    balance_of_ends: Part | None = None
    light_return_percent: Percent | None = None
    window_percent: Percent | None = None

    @model_validator(mode="after")
    def _consistent(self) -> "LookTable":
        asked = LookDemand(**self.model_dump())
        if not asked.of_colour and not asked.of_light:
            known = [key for key in type(self).model_fields if key not in ("zone", "colour")]
            raise ValueError(f"asks for nothing; add one of {', '.join(known)}")
        named = self.zone is not None and self.colour is not None
        if asked.of_colour and not named:
            raise ValueError("asks for a colour's share or balance: add zone and colour")
        if not asked.of_colour and (self.zone is not None or self.colour is not None):
            raise ValueError(
                "names a zone or colour of which it asks nothing; add face_percent or a balance"
            )
        return self


class WorkshopTable(Table):
    """[workshop], or a file of its own that the order names."""

    kerf_mm: NotNegative = Workshop.kerf_mm
    saw_reach_mm: Positive = Workshop.saw_reach_mm
    saw_error_mm: NotNegative = Workshop.saw_error_mm
    clean_up_mm: NotNegative = Workshop.clean_up_mm
    keep_offcut_ct: NotNegative = Workshop.keep_offcut_ct
    grind_mm: NotNegative = Workshop.grind_mm
    most_cuts: Annotated[int, Field(ge=0, le=100)] = Workshop.most_cuts


class OrderTable(Table):
    """A whole order file."""

    design: Annotated[tuple[str, ...], BeforeValidator(_as_tuple)] = ()
    parameters: dict[str, Ends] = Field(default_factory=dict)
    size: SizeTable = SizeTable()
    girdle: GirdleTable = GirdleTable()
    zone: ZoneDemandTable | None = None
    direction: DirectionTable | None = None
    look: LookTable | None = None
    workshop: Annotated[Any, BeforeValidator(_table_or_file)] = Field(default_factory=dict)
    rough: dict[str, Any] | None = None

    @model_validator(mode="after")
    def _one_zone(self) -> "OrderTable":
        look, zone = self.look, self.zone
        if look is None or look.zone is None or zone is None:
            return self
        if (look.zone, look.colour) != (zone.name, zone.colour):
            raise ValueError(
                f"[look] asks about the {look.colour} of {shown(look.zone)} and [zone] about the "
                f"{zone.colour} of {shown(zone.name)}: name the same in both"
            )
        return self


def example() -> str:
    """An order file with every key explained; it asks for the defaults."""
    return _EXAMPLE.read_text(encoding="utf-8")


def read_order(path: Path) -> Order:
    """Read and check an order file, and the workshop file it names. Raises InputError.

    Files of one's own (designs, the workshop) are looked for beside the order file.
    """
    table = checked(OrderTable, read_toml(path), str(path))
    workshop = _workshop(table.workshop, path)
    return Order(
        designs=tuple(dict.fromkeys(_beside(path, name) for name in table.design)),
        parameters={
            name: ends if ends[0] < ends[1] else ends[0] for name, ends in table.parameters.items()
        },
        size=SizeDemand(**table.size.model_dump()),
        least_girdle_mm=table.girdle.least_mm,
        least_girdle_percent=table.girdle.least_percent,
        zone=ZoneDemand(**table.zone.model_dump()) if table.zone else None,
        direction=DirectionDemand(**table.direction.model_dump()) if table.direction else None,
        look=LookDemand(**table.look.model_dump()) if table.look else None,
        workshop=Workshop(**workshop.model_dump()),
        rough=table.rough,
    )


def _beside(order: Path, design: str) -> str:
    """The whole path of a design file of one's own; a name from the library stays as it is."""
    return str((order.parent / design).resolve()) if design.endswith(".toml") else design


def _workshop(named: dict[str, Any] | str, order: Path) -> WorkshopTable:
    if isinstance(named, str):
        file = order.parent / named
        return checked(WorkshopTable, read_toml(file), str(file))
    return checked(WorkshopTable, named, f"{order}, [workshop]")
