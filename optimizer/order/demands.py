"""What an order asks of a finished stone: its size, its colour boundary, its crystal, its look."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from optimizer.wording.minus import with_minus
from optimizer.wording.plain_number import plain

Range = tuple[float, float]

# How closely a look can be ordered. Two samplings of the same face differ by up to 0.01 in a share
# and 0.02 in a balance (optics/README.md), and the search keeps a margin of 0.01.
MOST_BALANCE = 0.98
MOST_DIFFERENCE = 0.96  # of the ends: each share is known to 0.01 and kept 0.01 from its limit
LEAST_PLAY_PERCENT = 4.0  # of the face, between the ends of a range; half of it at 0 or 100


@dataclass(frozen=True)
class SizeDemand:
    """The least and the greatest size of the finished stone; equal ends mean one fixed size."""

    width_mm: Range | None = None
    length_mm: Range | None = None
    carat: Range | None = None

    @property
    def fixed(self) -> bool:
        """Whether only one size is allowed."""
        windows = (self.width_mm, self.length_mm, self.carat)
        return any(window and window[0] == window[1] for window in windows)


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

    def sentences(self) -> dict[str, str]:
        """Each demand on the boundary in plain words, by its key."""
        name = f'the boundary "{self.name}"'
        texts: dict[str, Callable[[Any], str]] = {
            "keep_clear_mm": lambda v: f"{name} not crossed, {plain(v)} mm clear",
            "share_percent": lambda v: f"{name}: {_between(v)} % {self.colour}",
            "offset": lambda v: f"{name}: offset {_between(v)}",
            "tilt_deg": lambda v: f"{name}: tilt {_between(v)}°",
            "azimuth_deg": lambda v: f"{name}: azimuth {_between(v)}°",
        }
        values = {key: getattr(self, key) for key in texts}
        return {key: texts[key](value) for key, value in values.items() if value is not None}


def _between(ends: Range) -> str:
    return with_minus(f"{plain(ends[0])} to {plain(ends[1])}")


# What each key of a ZoneDemand asks for. A bound lists the demands that it uses and ignores.
ZONE_WORDS = {
    "keep_clear_mm": "the boundary not crossed",
    "share_percent": "the boundary's share of the volume",
    "offset": "the boundary's offset",
    "tilt_deg": "the boundary's tilt",
    "azimuth_deg": "the boundary's azimuth",
}


@dataclass(frozen=True)
class DirectionDemand:
    """How the crystal must lie in the stone; a direction and its opposite count as the same.

    ``axis_to_table_deg``: the angle between the axis and the table's plane, 0 where the table is
    parallel to the axis, 90 where it is square to it.
    """

    axis: str = "optic axis"  # or "growth axis"
    axis_to_table_deg: Range | None = None
    # The least angle between any facet and any cleavage plane. 0: no limit; None: the usual limit.
    cleavage_clear_deg: float | None = None


@dataclass(frozen=True)
class LookDemand:
    """How the finished stone must look face up, upright, under an open sky.

    optics/README.md defines the figures. ``face_percent`` and the balances are those of the colour
    ``colour`` at the boundary ``zone``. A balance is the lesser share over the greater, 0 to 1.
    """

    zone: str | None = None
    colour: str | None = None
    face_percent: Range | None = None  # of the face that shows ``colour``
    balance_of_halves: float | None = None  # at least; across the width
    balance_of_ends: float | None = None  # at least; along the length
    light_return_percent: float | None = None  # at least
    window_percent: float | None = None  # at most
    difference_of_ends: float | None = None  # at least; of the ends' shares, 0 to 1

    @property
    def of_colour(self) -> bool:
        """Whether the demand depends on where the colour boundary runs."""
        asked = (
            self.face_percent,
            self.balance_of_halves,
            self.balance_of_ends,
            self.difference_of_ends,
        )
        return any(one is not None for one in asked)

    @property
    def of_light(self) -> bool:
        """Whether the demand includes a figure that depends on the design and its angles alone."""
        return self.light_return_percent is not None or self.window_percent is not None
