"""The tables of an order file about several stones from one piece, checked at the border."""

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from optimizer.design import library
from optimizer.errors import InputError, nearest
from optimizer.files.border import OneLine, Table, shown
from optimizer.order.like import LikeTable
from optimizer.order.model import Order
from optimizer.order.several import AS_MANY, PAIR_MM, LookTolerance, Price, Several, Wanted
from optimizer.order.tables import Degrees, NotNegative, StoneTable, same_zone
from optimizer.trade.calibrated import outlines
from optimizer.wording.plain_number import plain

MOST_STONES = 100  # in one plan
MOST_WANTED = 100  # entries of a list


class SeveralTable(Table):
    """[several]: how many stones, and what makes one plan better than another."""

    most: Annotated[int, Field(ge=1, le=MOST_STONES)] = Several.most
    aim: Literal["carats", "money"] = "carats"
    cut_cost: Annotated[float, Field(ge=0.0, allow_inf_nan=False)] = Several.cut_cost
    currency: OneLine = Several.currency


class PairTable(Table):
    """pair: how far two stones may differ."""

    width_mm: NotNegative = PAIR_MM
    tilt_deg: Degrees = LookTolerance.tilt_deg
    azimuth_deg: Degrees = LookTolerance.azimuth_deg
    offset: Annotated[float, Field(ge=0.0, le=2.0)] = LookTolerance.offset
    mirrored: bool = LookTolerance.mirrored


def _as_count(value: object) -> object:
    """How many: a number, "as many as pay" (None), or the least and the most."""
    if value == AS_MANY:
        return None
    ends: list[Any] = value if isinstance(value, list) else [value, value]
    if len(ends) != 2 or any(isinstance(e, bool) or not isinstance(e, int) for e in ends):
        raise ValueError(
            f'must be a whole number, [least, most] or "{AS_MANY}", got {shown(value)}'
        )
    least, most = ends
    if least > most:
        raise ValueError(f"runs backwards: {least} to {most}; put the lesser number first")
    if least < 0 or most < 1 or most > MOST_STONES:
        raise ValueError(f"must ask for 1 to {MOST_STONES} stones, got {shown(value)}")
    return least, most


def _as_pair(value: object) -> object:
    """A table of tolerances; a single number stands for the width's."""
    if isinstance(value, bool) or not isinstance(value, int | float | dict):
        raise ValueError(
            f"must be how far the widths may differ in mm, or a table of tolerances, got "
            f"{shown(value)}"
        )
    return value if isinstance(value, dict) else {"width_mm": value}


class WantedGirdleTable(Table):
    """[wanted.girdle]: the thinnest band that is allowed, in place of the order's own [girdle]."""

    least_mm: NotNegative | None = None
    least_percent: Annotated[float, Field(ge=0.0, le=30.0)] | None = None


class WantedTable(StoneTable):
    """[[wanted]]: one kind of stone, and how many."""

    name: OneLine = Field(examples=["ring stone"])
    girdle: WantedGirdleTable = WantedGirdleTable()
    count: Annotated[tuple[int, int] | None, BeforeValidator(_as_count)] = None
    pair: Annotated[PairTable | None, BeforeValidator(_as_pair)] = None
    first: bool = False
    calibrated: bool = False
    like: LikeTable | None = None

    @model_validator(mode="after")
    def _consistent(self) -> "WantedTable":
        if self.look is not None and self.look.light_loss_percent is not None:
            raise ValueError(
                "has light_loss_percent, which is one for all stones: say it in the order's [look]"
            )
        if self.first and self.pair is not None:
            raise ValueError(
                "is placed first and comes as a pair; only one stone can be placed first"
            )
        if self.first and self.count not in (None, (1, 1)):
            raise ValueError(
                "is placed first, so its count must be 1; give the others a [[wanted]] of their own"
            )
        if self.pair is not None and self.count is not None and any(n % 2 for n in self.count):
            asked = list(self.count) if self.count[0] < self.count[1] else self.count[0]
            raise ValueError(f"comes in pairs, so its count must be even, got {asked}")
        return self

    @model_validator(mode="after")
    def _matches_or_says(self) -> "WantedTable":
        like = self.like
        if like is None:
            return self
        settled = {"size", "zone", "calibrated"} | ({"parameters"} if like.plan else set())
        if said := sorted(settled & self.model_fields_set):
            raise ValueError(
                f"is like a finished stone, which already sets {', '.join(said)}: drop one of them"
            )
        if like.plan is None and len(self.design) != 1:
            raise ValueError("is like a stone measured by hand: name its one design")
        return self

    def read(self, file: Path) -> Wanted:
        """The wanted stone as an order keeps it. Raises InputError."""
        pair, alike, demands = self.pair, LookTolerance(), self.demands(file)
        if pair is not None:
            alike = LookTolerance(**pair.model_dump(exclude={"width_mm"}))
        if self.like is not None:
            try:
                demands |= self.like.demands(demands["designs"], file.parent)
            except InputError as error:
                raise InputError(f"{file}: the wanted {shown(self.name)}: {error}") from None
        return Wanted(
            name=self.name,
            **demands,
            least_girdle_mm=self.girdle.least_mm,
            least_girdle_percent=self.girdle.least_percent,
            count=(1, 1) if self.first else self.count,
            pair_mm=None if pair is None else pair.width_mm,
            alike=alike,
            first=self.first,
            calibrated=self.calibrated,
        )


def refuse_contradictions(wanted: Sequence[WantedTable], most: int) -> None:
    """Refuse a list of wanted stones that contradicts itself. Raises ValueError."""
    for name, times in Counter(one.name for one in wanted).items():
        if times > 1:
            raise ValueError(f"has {times} [[wanted]] named {shown(name)}: give each its own name")
    first = [shown(one.name) for one in wanted if one.first]
    if len(first) > 1:
        raise ValueError(f"places {' and '.join(first)} first: only one stone can be placed first")
    least = sum(_least(one) for one in wanted)
    if least > most:
        raise ValueError(
            f"asks for at least {least} stones in its [[wanted]] and for at most {most} in all: "
            "raise most in [several], or ask for fewer"
        )


def _least(wanted: WantedTable) -> int:
    if wanted.count is not None:
        return wanted.count[0]
    return 1 if wanted.first else 0


PriceNumber = Annotated[float, Field(ge=0.0, le=1e9)]  # carats, or money per carat


class PriceTable(Table):
    """[[prices]]: the price per carat, from each weight on."""

    design: OneLine | None = None
    outline: OneLine | None = None
    per_carat: Annotated[list[list[PriceNumber]], Field(min_length=1)] = Field(
        examples=[[[0.0, 20.0], [1.0, 45.0]]]
    )

    @model_validator(mode="after")
    def _consistent(self) -> "PriceTable":
        if self.design is not None and self.outline is not None:
            raise ValueError("names a design and an outline: keep one")
        known = [one.name for one in outlines()]
        if self.outline is not None and self.outline not in known:
            raise ValueError(
                f'names the unknown outline "{self.outline}"; {nearest(self.outline, known)}'
            )
        for step in self.per_carat:
            if len(step) != 2:
                raise ValueError(
                    f"per_carat must be a list of [from carats, price per carat], got {shown(step)}"
                )
        for (low, _), (high, _) in pairwise(self.per_carat):
            if low >= high:
                raise ValueError(
                    f"per_carat must rise in weight, got {plain(high)} after {plain(low)}"
                )
        return self

    def read(self) -> Price:
        """The price as an order keeps it."""
        return Price(tuple((low, paid) for low, paid in self.per_carat), self.design, self.outline)


def refuse_double_prices(prices: Sequence[PriceTable]) -> None:
    """Refuse two prices for one thing. Raises ValueError."""
    for (design, outline), times in Counter((p.design, p.outline) for p in prices).items():
        if times > 1:
            what = shown(design or outline) if design or outline else "any stone"
            raise ValueError(f"has {times} [[prices]] for {what}: keep one")


def refuse_contradictory_order(order: Order, file: Path) -> None:
    """Refuse contradictions that show only when each wanted stone is completed by the order, and
    prices of unknown designs. Raises InputError."""
    for wanted in order.wanted:
        whole = order.of(wanted)
        try:
            same_zone(whole.look, whole.zone)
        except ValueError as error:
            raise InputError(f"{file}: the wanted {shown(wanted.name)}: {error}") from None
        if wanted.first and not whole.size.fixed:
            raise InputError(
                f"{file}: the wanted {shown(wanted.name)} is placed first, so it needs a fixed "
                "size; give one number for its width, length or weight"
            )
    named = (order.designs, *(wanted.designs for wanted in order.wanted))
    known = {*library(), *(Path(name).stem for designs in named for name in designs)}
    for price in order.prices:
        if price.design is not None and price.design not in known:
            hint = nearest(price.design, known)
            raise InputError(
                f"{file}: [[prices]] names the unknown design {shown(price.design)}; {hint}"
            )
