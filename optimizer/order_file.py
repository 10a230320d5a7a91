"""The order file and the workshop file: TOML, checked at the border."""

from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from optimizer.border import Table, checked, read_toml
from optimizer.order import Order, Range, SizeDemand, Workshop, ZoneDemand


def _as_range(value: object) -> object:
    """A single number means that very number."""
    ends = value if isinstance(value, list) else [value, value]
    if len(ends) != 2 or any(isinstance(e, bool) or not isinstance(e, int | float) for e in ends):
        raise ValueError(f"must be a number or [least, greatest], got {value!r}")
    return tuple(ends)


def _rising(ends: Range) -> Range:
    if ends[0] > ends[1]:
        raise ValueError(f"runs backwards: {ends[0]:g} to {ends[1]:g}; put the lesser number first")
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
        raise ValueError(f"must be a name or a list of names, got {value!r}")
    return tuple(names)


Finite = Annotated[float, Field(allow_inf_nan=False)]
Ends = Annotated[tuple[Finite, Finite], BeforeValidator(_as_range), AfterValidator(_rising)]
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
    azimuth_deg: Annotated[Ends, _within(-360.0, 360.0)] | None = None

    @model_validator(mode="after")
    def _consistent(self) -> "ZoneDemandTable":
        crossing = self.share_percent is not None or self.offset is not None
        if self.keep_clear_mm is not None and crossing:
            raise ValueError(
                "keeps clear of the boundary (keep_clear_mm) and lets it cross "
                "(share_percent, offset): keep one"
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
    parameters: dict[str, Finite] = Field(default_factory=dict)
    size: SizeTable = SizeTable()
    girdle: GirdleTable = GirdleTable()
    zone: ZoneDemandTable | None = None
    workshop: dict[str, Any] | str = Field(default_factory=dict)
    rough: dict[str, Any] | None = None


def read_order(path: Path) -> Order:
    """Read and check an order file, and the workshop file it names. Raises InputError."""
    table = checked(OrderTable, read_toml(path), str(path))
    workshop = _workshop(table.workshop, path)
    return Order(
        designs=table.design,
        parameters=table.parameters,
        size=SizeDemand(**table.size.model_dump()),
        least_girdle_mm=table.girdle.least_mm,
        least_girdle_percent=table.girdle.least_percent,
        zone=ZoneDemand(**table.zone.model_dump()) if table.zone else None,
        workshop=Workshop(**workshop.model_dump()),
        rough=table.rough,
    )


def _workshop(named: dict[str, Any] | str, order: Path) -> WorkshopTable:
    if isinstance(named, str):
        file = order.parent / named
        return checked(WorkshopTable, read_toml(file), str(file))
    return checked(WorkshopTable, named, f"{order}, [workshop]")


EXAMPLE = """\
# An order: what is wanted. Every line may be left out; the values shown without # are the
# defaults. Lengths are in millimetres, angles in degrees, weights in carats.

# One design or several to choose from; left out: the one of the library that gives most carats.
# design = ["oval", "cushion"]

# A design's own numbers; `kerfwise designs NAME` lists them with their ranges.
# [parameters]
# length_to_width = 1.4

# The finished stone: a number fixes it, [least, greatest] is a window. Left out: as large as it
# goes. A fixed size is laid where it keeps the greatest distance from the surface.
# [size]
# width_mm = [6.0, 9.0]
# length_mm = 12.0
# carat = [2.0, 1000.0]

[girdle]                    # the thinnest band that is allowed; the thicker of the two counts
least_mm = 0.2
least_percent = 2.0         # of the width

# How a colour boundary of the rough (named in the rough file) must lie. The stone is looked at
# with its table up and its length to the right; the boundary's normal points to `colour`.
# [zone]
# name = "split"
# colour = "violet"
# keep_clear_mm = 0.3       # the boundary does not cross the stone: all of it is `colour`
# share_percent = [45, 55]  # of the stone's volume that is `colour`
# offset = [-0.1, 0.1]      # 0: half way through the stone; -1 and 1: it just touches
# tilt_deg = [-10, 10]      # 0: the boundary stands upright, from table to culet
# azimuth_deg = [-10, 10]   # 0: `colour` lies to the right, 90: to the back

# What your saw, laps and hands do; or workshop = "my-workshop.toml", a file with these lines.
[workshop]
kerf_mm = 0.4               # full width that the blade removes
saw_reach_mm = 30.0         # deepest cut from one side
saw_error_mm = 0.3          # marking and blade wander together
clean_up_mm = 0.2           # what must come off any surface to reach sound polished facets
keep_offcut_ct = 2.0        # a cap of this weight or more is sawn off and kept
grind_mm = 2.0              # more than this is sawn, not ground
most_cuts = 6

# Facts about the piece, where ROUGH is a bare scan and not a rough file; zones and reference
# faces as in a rough file.
# [rough]
# unit = "mm"
# material = "quartz"
# weighed_ct = 61.2
"""
