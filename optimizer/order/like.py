"""A wanted stone that matches a finished one: the size and the boundary that it must have."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from pydantic import Field, model_validator

from optimizer.errors import InputError
from optimizer.files.border import FileName, OneLine, Table
from optimizer.order.demands import Range, SizeDemand, ZoneDemand
from optimizer.order.several import PAIR_MM, LookTolerance
from optimizer.order.tables import Degrees, NotNegative, Percent, Positive
from optimizer.wording.plain_number import plain

if TYPE_CHECKING:
    from optimizer.documents.guidance import BoundaryViewRecord
    from optimizer.documents.stones import StoneRecord

SHARE_PERCENT = 5.0  # of the volume, either way; common practice, no source
MOST_MM = 1e4  # no order asks for a larger stone
_FIGURES = ("tilt_deg", "azimuth_deg", "offset", "share_percent")


class LikeTable(Table):
    """like: a stone of another plan, or the figures of a measured stone."""

    plan: FileName | None = None
    stone: Annotated[int, Field(ge=1)] | None = None
    width_mm: Positive | None = None
    length_mm: Positive | None = None
    zone: OneLine | None = None
    colour: OneLine | None = None
    tilt_deg: Annotated[float, Field(ge=-90.0, le=90.0)] | None = None
    azimuth_deg: Annotated[float, Field(ge=-180.0, le=180.0)] | None = None
    offset: Annotated[float, Field(ge=-1.0, le=1.0)] | None = None
    share_percent: Percent | None = None
    within_mm: NotNegative = PAIR_MM
    within_deg: Degrees = LookTolerance.tilt_deg
    within_offset: Annotated[float, Field(ge=0.0, le=2.0)] = LookTolerance.offset
    within_percent: Percent = SHARE_PERCENT

    @model_validator(mode="after")
    def _one_way(self) -> "LikeTable":
        sizes = [key for key in ("width_mm", "length_mm") if getattr(self, key) is not None]
        figures = [key for key in _FIGURES if getattr(self, key) is not None]
        if (self.zone is None) != (self.colour is None):
            raise ValueError("names only one of zone and colour; add the other")
        if self.plan is not None:
            if sizes or figures:
                given = ", ".join(sizes + figures)
                raise ValueError(f"names a plan and gives {given} by hand; keep one")
            return self
        if self.stone is not None:
            raise ValueError("gives the number of a stone but no plan; add plan")
        if self.width_mm is None:
            raise ValueError("needs plan, the path of a plan.json, or width_mm by hand")
        if figures and self.zone is None:
            raise ValueError(f"gives {', '.join(figures)} without a boundary; add zone and colour")
        if self.zone is not None and not figures:
            raise ValueError(f"asks nothing about the boundary; add one of {', '.join(_FIGURES)}")
        return self

    def demands(self, designs: tuple[str, ...], folder: Path) -> dict[str, Any]:
        """The demands that make a stone match, under the names of an order's fields.

        ``designs`` are the designs that the wanted stone names. The plan's path is relative to
        ``folder``. Raises InputError.
        """
        if self.plan is None:
            ends = (_near(x, self.within_mm, 0.0, MOST_MM) for x in (self.width_mm, self.length_mm))
            return {"size": SizeDemand(*ends), "zone": self._zone(self)}
        stone = planned_stone(folder / self.plan, self.stone or 1)
        if designs and [Path(name).stem for name in designs] != [stone.design]:
            raise InputError(
                f"is like a stone of the design {stone.design} but names another design; keep one"
            )
        if stone.width_mm > MOST_MM:
            raise InputError(
                f"is like a stone {plain(stone.width_mm)} mm wide; the most is {plain(MOST_MM)}"
            )
        return {
            "designs": designs or (stone.design,),
            "parameters": dict(stone.parameters),
            "size": SizeDemand(_near(stone.width_mm, self.within_mm, 0.0, MOST_MM)),
            "zone": self._zone(None if stone.guidance is None else stone.guidance.zone),
        }

    def _zone(self, seen: "BoundaryViewRecord | LikeTable | None") -> ZoneDemand | None:
        """The demand on the boundary within the tolerances, under its names in this piece."""
        if seen is None:
            return None
        name, colour = self.zone or seen.zone, self.colour or seen.colour
        if name is None or colour is None:  # no boundary is asked about
            return None
        if seen.offset is not None and abs(seen.offset) >= 1.0:  # it does not cross the stone
            whole = 100.0 if seen.offset < 0.0 else 0.0
            return ZoneDemand(name, colour, share_percent=(whole, whole))
        return ZoneDemand(
            name,
            colour,
            share_percent=_near(seen.share_percent, self.within_percent, 0.0, 100.0),
            offset=_near(seen.offset, self.within_offset, -1.0, 1.0),
            tilt_deg=_near(seen.tilt_deg, self.within_deg, -90.0, 90.0),
            azimuth_deg=_near(seen.azimuth_deg, self.within_deg, -360.0, 360.0),
        )


def _near(value: float | None, within: float, low: float, high: float) -> Range | None:
    """The range from ``within`` below a value to ``within`` above it, limited to ``low`` to
    ``high``."""
    return None if value is None else (max(low, value - within), min(high, value + within))


def planned_stone(path: Path, number: int) -> "StoneRecord":
    """Stone ``number``, from 1, of a plan.json. Raises InputError."""
    from optimizer.documents.read import read_plan  # many tables, which most orders don't need

    stones = read_plan(path).stones
    if number > len(stones):
        raise InputError(f"{path}: has {len(stones)} stones, so there is no stone = {number}")
    return stones[number - 1]
