"""What an order says about several stones from one piece: how many of each, and their prices."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from optimizer.order.demands import DirectionDemand, LookDemand, Range, SizeDemand, ZoneDemand

AS_MANY = "as many as pay"
PAIR_MM = 0.1  # the eye sees no smaller difference in a pair; common practice, no source


@dataclass(frozen=True)
class LookTolerance:
    """How far the look of a boundary may differ in two stones that match.

    Defaults are common practice, no source. ``mirrored``: left and right hand count as alike.
    """

    tilt_deg: float = 5.0
    azimuth_deg: float = 5.0
    offset: float = 0.05
    mirrored: bool = True


@dataclass(frozen=True)
class Wanted:
    """One entry of the list of wanted stones. What it leaves out is taken from the order itself."""

    name: str
    designs: tuple[str, ...] = ()
    parameters: Mapping[str, float | Range] = field(default_factory=dict)
    size: SizeDemand | None = None
    least_girdle_mm: float | None = None
    least_girdle_percent: float | None = None
    zone: ZoneDemand | None = None
    direction: DirectionDemand | None = None
    look: LookDemand | None = None
    count: tuple[int, int] | None = None  # least and most; None: as many as pay
    pair_mm: float | None = None  # in pairs whose widths agree within this; None: single stones
    alike: LookTolerance = LookTolerance()  # of pairs
    first: bool = False  # placed before the others, which share the rest of the piece
    calibrated: bool = False  # only in the usual sizes of its outline


@dataclass(frozen=True)
class Several:
    """How many stones may come from one piece, and what makes one plan better than another."""

    most: int = 8  # stones in all
    aim: str = "carats"  # or "money"
    cut_cost: float = 0.0  # of one saw cut, in the currency
    currency: str = "money"


@dataclass(frozen=True)
class Price:
    """The price per carat for a design, for an outline, or for any stone."""

    per_carat: tuple[tuple[float, float], ...]  # (from this weight on, price), in rising weights
    design: str | None = None
    outline: str | None = None


def wanted_table(wanted: Wanted) -> dict[str, Any]:
    """A wanted stone as a table with the order file's keys, without keys left to the order."""
    girdle = {"least_mm": wanted.least_girdle_mm, "least_percent": wanted.least_girdle_percent}
    demands = {key: getattr(wanted, key) for key in ("size", "zone", "direction", "look")}
    tables = {
        "parameters": wanted.parameters or None,
        "girdle": _given(girdle) or None,
        **{key: _given(vars(demand)) for key, demand in demands.items() if demand is not None},
    }
    pair = {"width_mm": wanted.pair_mm, **vars(wanted.alike)}
    plain = {
        "name": wanted.name,
        "design": list(wanted.designs) or None,
        "count": AS_MANY if wanted.count is None else list(wanted.count),
        "first": wanted.first,
        "calibrated": wanted.calibrated,
        "pair": None if wanted.pair_mm is None else pair,
    }
    return _given({**plain, **tables})


def price_table(price: Price) -> dict[str, Any]:
    """A price as a table with the order file's keys."""
    return _given(vars(price))


def _given(table: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in table.items() if value is not None}
