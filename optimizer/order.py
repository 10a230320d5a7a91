"""What is asked for (the order file) and what the workshop has (the workshop file)."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

Range = tuple[float, float]


@dataclass(frozen=True)
class Workshop:
    """What the workshop's saw, laps and hands do; every value can be set in the workshop file.

    Defaults are common practice, no source.
    """

    kerf_mm: float = 0.4  # full width that the blade removes
    saw_reach_mm: float = 30.0  # deepest cut from one side
    saw_error_mm: float = 0.3  # marking and blade wander together
    clean_up_mm: float = 0.2  # what must come off any surface to reach sound polished facets
    keep_offcut_ct: float = 2.0  # a cap of this weight or more is sawn off and kept
    grind_mm: float = 2.0  # more than this is sawn, not ground
    most_cuts: int = 6


@dataclass(frozen=True)
class SizeDemand:
    """Least and greatest of the finished stone; equal ends mean one fixed size."""

    width_mm: Range | None = None
    length_mm: Range | None = None
    carat: Range | None = None


@dataclass(frozen=True)
class ZoneDemand:
    """How the colour boundary must lie. Seen from the stone, with n the unit normal towards
    ``colour``: tilt = asin n_z, azimuth = atan2(n_y, n_x), offset = (c − mid)/half."""

    name: str
    colour: str
    keep_clear_mm: float | None = None  # boundary not crossed: the whole stone shows ``colour``
    share_percent: Range | None = None  # of the stone's volume, on the side of ``colour``
    offset: Range | None = None
    tilt_deg: Range | None = None
    azimuth_deg: Range | None = None


@dataclass(frozen=True)
class DirectionDemand:
    """How the crystal must lie in the stone; directions count either way.

    ``axis_to_table_deg``: the angle between the axis and the table's plane, 0 where the table is
    parallel to the axis, 90 where it is square to it.
    """

    axis: str = "optic axis"  # or "growth axis"
    axis_to_table_deg: Range | None = None
    # Least angle of any facet to any cleavage plane; 0 for no limit, None for the usual one.
    cleavage_clear_deg: float | None = None


@dataclass(frozen=True)
class LookDemand:
    """How the finished stone must look face up, upright, under an open sky.

    Figures as optics/README.md defines them. ``face_percent`` and the balances are of the colour
    ``colour`` at the boundary ``zone``; a balance is the lesser over the greater, 0 to 1.
    """

    zone: str | None = None
    colour: str | None = None
    face_percent: Range | None = None  # of the face that shows ``colour``
    balance_of_halves: float | None = None  # at least; across the width
    balance_of_ends: float | None = None  # at least; along the length
    light_return_percent: float | None = None  # at least
    window_percent: float | None = None  # at most

    @property
    def of_colour(self) -> bool:
        """Whether anything is asked that depends on where the boundary runs."""
        asked = (self.face_percent, self.balance_of_halves, self.balance_of_ends)
        return any(one is not None for one in asked)

    @property
    def of_light(self) -> bool:
        """Whether anything is asked that the design and its angles alone settle."""
        return self.light_return_percent is not None or self.window_percent is not None


@dataclass(frozen=True)
class Order:
    """What the client wants. An empty order asks for the most carats of any design."""

    designs: tuple[str, ...] = ()  # library names or .toml paths; empty: any of the library
    parameters: Mapping[str, float | Range] = field(default_factory=dict)  # fixed, or a free range
    size: SizeDemand = SizeDemand()
    least_girdle_mm: float = 0.2
    least_girdle_percent: float = 2.0
    zone: ZoneDemand | None = None
    direction: DirectionDemand | None = None
    look: LookDemand | None = None
    workshop: Workshop = Workshop()
    rough: Mapping[str, Any] | None = None  # a [rough] table, for a bare mesh

    @property
    def design_names(self) -> tuple[str, ...]:
        """The designs' bare names; ``designs`` may hold paths of one's own files."""
        return tuple(Path(design).stem for design in self.designs)


def as_table(order: Order) -> dict[str, Any]:
    """The order under the order file's own keys, every default filled in."""
    whole = asdict(order)
    designs = whole.pop("designs")
    table = {"design": list(designs)} if designs else {}
    girdle = {
        "least_mm": whole.pop("least_girdle_mm"),
        "least_percent": whole.pop("least_girdle_percent"),
    }
    given = {key: value for key, value in whole.items() if value}
    return {**table, "girdle": girdle, **given}


def load_order(path: str | Path) -> Order:
    """Read an order file (TOML). Raises InputError with one line naming file, key and mend."""
    from optimizer.order_file import read_order

    return read_order(Path(path))
