"""A wanted stone that matches a finished one: what is asked of its size and its boundary."""

import json
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, Field, model_validator

from optimizer.border import FileName, OneLine, Table
from optimizer.errors import InputError
from optimizer.order.demands import Range, SizeDemand, ZoneDemand
from optimizer.order.several import PAIR_MM, Alike
from optimizer.order.tables import Degrees, NotNegative, Percent, Positive
from optimizer.reading import PLAN, read_file

SHARE_PERCENT = 5.0  # of the volume, either way; common practice, no source
_FIGURES = ("tilt_deg", "azimuth_deg", "offset", "share_percent")


class Boundary(BaseModel):
    """A colour boundary as it lies in a finished stone, in plan.json's own words."""

    zone: str
    colour: str
    tilt_deg: float | None = None
    azimuth_deg: float | None = None
    offset: float | None = None
    share_percent: float | None = None


class _Guidance(BaseModel):
    zone: Boundary | None = None


class Finished(BaseModel):
    """What a stone of plan.json is to be matched in."""

    design: str
    parameters: dict[str, float]
    width_mm: float
    guidance: _Guidance | None = None

    @property
    def boundary(self) -> Boundary | None:
        """How the colour boundary lies in it."""
        return None if self.guidance is None else self.guidance.zone


class _Plan(BaseModel):
    format: str = Field(pattern="^kerfwise-plan/")
    stones: list[Finished]


class LikeTable(Table):
    """like: a stone of another plan, or the figures of one that was measured."""

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
    within_deg: Degrees = Alike.tilt_deg
    within_offset: Annotated[float, Field(ge=0.0, le=2.0)] = Alike.offset
    within_percent: Percent = SHARE_PERCENT

    @model_validator(mode="after")
    def _one_way(self) -> "LikeTable":
        sizes = [key for key in ("width_mm", "length_mm") if getattr(self, key) is not None]
        figures = [key for key in _FIGURES if getattr(self, key) is not None]
        if (self.zone is None) != (self.colour is None):
            raise ValueError("names a zone or a colour alone; add the other")
        if self.plan is not None:
            if sizes or figures:
                given = ", ".join(sizes + figures)
                raise ValueError(f"names a plan and gives {given} by hand; keep one")
            return self
        if self.stone is not None:
            raise ValueError("counts the stones of a plan that it doesn't name; add plan")
        if self.width_mm is None:
            raise ValueError("needs plan, the plan.json of another plan, or width_mm by hand")
        if figures and self.zone is None:
            raise ValueError(f"gives {', '.join(figures)} of no boundary; add zone and colour")
        if self.zone is not None and not figures:
            raise ValueError(f"asks for nothing of the boundary; add one of {', '.join(_FIGURES)}")
        return self

    def demands(self, designs: tuple[str, ...], folder: Path) -> dict[str, Any]:
        """What to ask for so that a stone matches, by the names of an order's fields.

        ``designs`` are those that the wanted stone names; the plan is looked for in ``folder``.
        Raises InputError.
        """
        if self.plan is None:
            ends = (_near(x, self.within_mm, 0.0, 1e4) for x in (self.width_mm, self.length_mm))
            return {"size": SizeDemand(*ends), "zone": self._zone(self._by_hand())}
        stone = finished(folder / self.plan, self.stone or 1)
        if designs and [Path(name).stem for name in designs] != [stone.design]:
            raise InputError(f"is like a stone of the design {stone.design}, and names another")
        return {
            "designs": designs or (stone.design,),
            "parameters": stone.parameters,
            "size": SizeDemand(_near(stone.width_mm, self.within_mm, 0.0, 1e4)),
            "zone": self._zone(stone.boundary),
        }

    def _by_hand(self) -> Boundary | None:
        if self.zone is None:
            return None
        return Boundary(**self.model_dump(include={"zone", "colour", *_FIGURES}))

    def _zone(self, seen: Boundary | None) -> ZoneDemand | None:
        """The boundary within the tolerances, under the names that it has in this piece."""
        if seen is None:
            return None
        name, colour = self.zone or seen.zone, self.colour or seen.colour
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
    """``within`` of a value either way, between ``low`` and ``high``."""
    return None if value is None else (max(low, value - within), min(high, value + within))


def finished(path: Path, number: int) -> Finished:
    """Stone ``number``, from 1, of a plan.json. Raises InputError."""
    text = read_file(path, PLAN)
    try:
        plan = _Plan.model_validate(json.loads(text))
    except (ValueError, RecursionError):  # pydantic's and JSON's errors, bytes that are no text
        raise InputError(
            f"{path}: is not the plan.json of a plan; name one, or give width_mm by hand"
        ) from None
    if number > len(plan.stones):
        raise InputError(f"{path}: has {len(plan.stones)} stones, so stone = {number} is none")
    return plan.stones[number - 1]
