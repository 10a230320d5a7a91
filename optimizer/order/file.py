"""The order file and the workshop file: TOML, checked at the border."""

from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from optimizer.files.border import Table, checked, shown
from optimizer.files.toml_file import read_toml
from optimizer.order.model import Order, Workshop
from optimizer.order.several import Several
from optimizer.order.several_file import (
    MOST_WANTED,
    PriceTable,
    SeveralTable,
    WantedTable,
    refuse_contradictions,
    refuse_contradictory_order,
    refuse_double_prices,
)
from optimizer.order.tables import NotNegative, Positive, SizeTable, StoneTable

_EXAMPLE = Path(__file__).with_name("example.toml")


def _table_or_file(value: object) -> object:
    if not isinstance(value, dict | str):
        raise ValueError(f"must be a table or the name of a workshop file, got {shown(value)}")
    return value


def _as_list(value: object) -> object:
    if isinstance(value, dict):
        raise ValueError("is a list of tables: write the head of each in two brackets, [[ ]]")
    if value == []:
        raise ValueError("is an empty list: write a table for each entry, or take it out")
    return value


class WorkshopTable(Table):
    """The [workshop] table, or a workshop file that the order names."""

    kerf_mm: NotNegative = Workshop.kerf_mm
    saw_reach_mm: Positive = Workshop.saw_reach_mm
    saw_error_mm: NotNegative = Workshop.saw_error_mm
    clean_up_mm: NotNegative = Workshop.clean_up_mm
    keep_offcut_ct: NotNegative = Workshop.keep_offcut_ct
    grind_mm: NotNegative = Workshop.grind_mm
    most_cuts: Annotated[int, Field(ge=0, le=100)] = Workshop.most_cuts
    saw: Literal["blade", "wire"] = "blade"
    two_sided: bool = Workshop.two_sided
    hold_mm: NotNegative = Workshop.hold_mm


class GirdleTable(Table):
    """[girdle]: the thinnest band that is allowed."""

    least_mm: NotNegative = Order.least_girdle_mm
    least_percent: Annotated[float, Field(ge=0.0, le=30.0)] = Order.least_girdle_percent


class OrderTable(StoneTable):
    """A whole order file."""

    size: SizeTable = SizeTable()
    girdle: GirdleTable = GirdleTable()
    workshop: Annotated[Any, BeforeValidator(_table_or_file)] = Field(default_factory=dict)
    rough: dict[str, Any] | None = None
    several: SeveralTable | None = None
    wanted: Annotated[
        list[WantedTable], BeforeValidator(_as_list), Field(max_length=MOST_WANTED)
    ] = Field(default_factory=list)
    prices: Annotated[list[PriceTable], BeforeValidator(_as_list)] = Field(default_factory=list)

    @model_validator(mode="after")
    def _list_agrees(self) -> "OrderTable":
        several = self.several or SeveralTable()
        refuse_contradictions(self.wanted, several.most)
        if self.prices and self.several is None and not self.wanted:
            raise ValueError(
                "has [[prices]] but asks for one stone, which is made as heavy as it can be; add "
                '[several] with aim = "money", or drop [[prices]]'
            )
        refuse_double_prices(self.prices)
        return self


def _light_loss(table: OrderTable) -> float:
    stated = None if table.look is None else table.look.light_loss_percent
    return Order.light_loss_percent if stated is None else stated


def example() -> str:
    """An order file with every key explained; it asks for the defaults."""
    return _EXAMPLE.read_text(encoding="utf-8")


def load_order(path: str | Path) -> Order:
    """Read and check an order file, and the files it names.

    The files that the order names (designs, the workshop, plans to match) are looked for beside the
    order file. Raises InputError with one line that names the file, the key and the remedy.
    """
    path = Path(path)
    table = checked(OrderTable, read_toml(path), str(path))
    workshop = _workshop(table.workshop, path)
    several = table.several or (SeveralTable() if table.wanted else None)
    order = Order(
        **table.demands(path),
        least_girdle_mm=table.girdle.least_mm,
        least_girdle_percent=table.girdle.least_percent,
        light_loss_percent=_light_loss(table),
        workshop=Workshop(**workshop.model_dump()),
        rough=table.rough,
        several=None if several is None else Several(**several.model_dump()),
        wanted=tuple(wanted.read(path) for wanted in table.wanted),
        prices=tuple(price.read() for price in table.prices),
    )
    refuse_contradictory_order(order, path)
    return order


def _workshop(named: dict[str, Any] | str, order: Path) -> WorkshopTable:
    if isinstance(named, str):
        file = order.parent / named
        return checked(WorkshopTable, read_toml(file), str(file))
    return checked(WorkshopTable, named, f"{order}, [workshop]")
