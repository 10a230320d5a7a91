"""The data of an order: what is asked for, and what the workshop has."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from optimizer.order.demands import DirectionDemand, LookDemand, Range, SizeDemand, ZoneDemand
from optimizer.order.several import Price, Several, Wanted, price_table, wanted_table


@dataclass(frozen=True)
class Workshop:
    """The workshop's saw and allowances; every value can be set in the workshop file.

    Defaults are common practice, no source.
    """

    kerf_mm: float = 0.4  # full width that the blade removes
    saw_reach_mm: float = 30.0  # deepest cut from one side
    saw_error_mm: float = 0.3  # marking and blade wander together
    clean_up_mm: float = 0.2  # what must come off any surface to reach sound polished facets
    keep_offcut_ct: float = 2.0  # a cap of this weight or more is sawn off and kept
    grind_mm: float = 2.0  # where more height than this would be ground, it is sawn off
    most_cuts: int = 6
    saw: str = "blade"  # or "wire"
    two_sided: bool = False  # whether cuts deeper than the reach are made from both sides
    hold_mm: float = 5.0  # the least length of a piece that can be held for sawing


@dataclass(frozen=True)
class Order:
    """What the client wants. An empty order asks for the heaviest stone of any design."""

    designs: tuple[str, ...] = ()  # library names or .toml paths; empty: any design of the library
    parameters: Mapping[str, float | Range] = field(default_factory=dict)  # fixed, or a free range
    size: SizeDemand = field(default_factory=SizeDemand)
    least_girdle_mm: float = 0.2
    least_girdle_percent: float = 2.0
    zone: ZoneDemand | None = None
    direction: DirectionDemand | None = None
    look: LookDemand | None = None
    # How far the mains that are free by default may lower the light return, and widen the window,
    # beside the usual angles: percent of the sky's light, and of the face.
    light_loss_percent: float = 3.0
    workshop: Workshop = Workshop()
    rough: Mapping[str, Any] | None = None  # a [rough] table, for a bare mesh
    several: Several | None = None  # None: one stone
    wanted: tuple[Wanted, ...] = ()  # of several stones; empty: as many of any kind as pay
    prices: tuple[Price, ...] = ()

    @property
    def design_names(self) -> tuple[str, ...]:
        """The designs' bare names; ``designs`` may hold paths of the user's own files."""
        return tuple(Path(design).stem for design in self.designs)

    @property
    def several_asked(self) -> bool:
        """Whether the order asks for several stones, or allows them."""
        return self.several is not None or bool(self.wanted)

    def of(self, wanted: Wanted) -> "Order":
        """The order for one stone of the entry ``wanted`` alone. The order's parameters belong to
        its own designs: an entry that names designs takes none of them."""
        inherited = {} if wanted.designs else self.parameters
        girdle_mm, girdle_percent = wanted.least_girdle_mm, wanted.least_girdle_percent
        return Order(
            designs=wanted.designs or self.designs,
            parameters=wanted.parameters or inherited,
            size=self.size if wanted.size is None else wanted.size,
            least_girdle_mm=self.least_girdle_mm if girdle_mm is None else girdle_mm,
            least_girdle_percent=(
                self.least_girdle_percent if girdle_percent is None else girdle_percent
            ),
            zone=wanted.zone or self.zone,
            direction=wanted.direction or self.direction,
            look=wanted.look or self.look,
            light_loss_percent=self.light_loss_percent,
            workshop=self.workshop,
            rough=self.rough,
        )


def as_table(order: Order) -> dict[str, Any]:
    """The order as a table with the order file's keys, every default filled in."""
    whole = asdict(replace(order, wanted=(), prices=()))
    designs = whole.pop("designs")
    table = {"design": list(designs)} if designs else {}
    girdle = {
        "least_mm": whole.pop("least_girdle_mm"),
        "least_percent": whole.pop("least_girdle_percent"),
    }
    loss = {"light_loss_percent": whole.pop("light_loss_percent")}
    whole["look"] = (whole["look"] or {}) | loss
    given = {key: value for key, value in whole.items() if value}
    lists = {
        "wanted": [wanted_table(wanted) for wanted in order.wanted],
        "prices": [price_table(price) for price in order.prices],
    }
    return {**table, "girdle": girdle, **given, **{k: v for k, v in lists.items() if v}}
