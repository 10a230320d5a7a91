"""The kinds of values that plan.json and sawn.json hold, each with its bounds."""

import math
from collections.abc import Iterable
from typing import Annotated, Any

from pydantic import AfterValidator, Field
from pydantic_core import CoreSchema, core_schema
from typing_extensions import TypeAliasType

from optimizer.wording.plain_number import plain

FAR_MM = 1e12  # no scan, and so nothing within one, reaches farther from the origin
WIDEST_KERF_MM = 1e4  # the widest kerf that a workshop file may state
ROUNDING = 1e-8  # by which a computed value may exceed its bound, in its last bits
UNIT_WITHIN = 1e-6  # by which a direction's length may differ from 1: rounding is far less

Finite = Annotated[float, Field(allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0.0, allow_inf_nan=False)]
AboutNotNegative = Annotated[float, Field(ge=-ROUNDING, allow_inf_nan=False)]

Coordinate = Annotated[float, Field(ge=-FAR_MM, le=FAR_MM, allow_inf_nan=False)]
Length = Annotated[float, Field(ge=0.0, le=FAR_MM, allow_inf_nan=False)]
PositiveLength = Annotated[float, Field(gt=0.0, le=FAR_MM, allow_inf_nan=False)]
Kerf = Annotated[float, Field(ge=0.0, le=WIDEST_KERF_MM, allow_inf_nan=False)]
Acute = Annotated[float, Field(ge=0.0, le=90.0 * (1.0 + ROUNDING), allow_inf_nan=False)]  # degrees
Share = Annotated[float, Field(ge=0.0, le=1.0 + ROUNDING, allow_inf_nan=False)]
Percent = Annotated[float, Field(ge=0.0, le=100.0 * (1.0 + ROUNDING), allow_inf_nan=False)]

Index = Annotated[int, Field(ge=0)]
Ordinal = Annotated[int, Field(ge=1)]
Text = Annotated[str, Field(min_length=1)]
Texts = tuple[Text, ...]


class OneOf:
    """A text that must be one of a few words."""

    def __init__(self, *words: str) -> None:
        self.words = words

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        """The schema of pydantic's own choice of words."""
        return core_schema.literal_schema(list(self.words))


Side = Annotated[str, OneOf("below", "above")]

_TWO, _THREE = (Field(min_length=count, max_length=count) for count in (2, 3))
Interval = Annotated[tuple[Finite, ...], _TWO]  # least and greatest
Weights = Annotated[tuple[NotNegative, ...], _TWO]
Shares = Annotated[tuple[Share, ...], _TWO]
Percents = Annotated[tuple[Percent, ...], _TWO]

Point = tuple[float, ...]


def vector(values: Iterable[float]) -> Point:
    """A point or direction as plain numbers."""
    return tuple(float(value) for value in values)


def rows(matrix: Iterable[Iterable[float]]) -> tuple[Point, ...]:
    """Points, or the rows of a rotation, as plain numbers."""
    return tuple(vector(row) for row in matrix)


Vector = TypeAliasType("Vector", Annotated[tuple[Coordinate, ...], _THREE])


def _one_long(vector: Point) -> Point:
    length = math.hypot(*vector)
    if abs(length - 1.0) > UNIT_WITHIN:
        raise ValueError(f"must be a direction of length 1, got one of length {plain(length)}")
    return vector


UnitVector = TypeAliasType("UnitVector", Annotated[Vector, AfterValidator(_one_long)])


def _proper(rows: tuple[Point, ...]) -> tuple[Point, ...]:
    """Require a proper rotation: the third of the unit rows is the cross product of the others."""
    (ax, ay, az), (bx, by, bz), third = rows
    cross = (ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx)
    if math.dist(cross, third) > UNIT_WITHIN:
        raise ValueError("must be a proper rotation: three rows square to each other, right-handed")
    return rows


Rotation = TypeAliasType(
    "Rotation", Annotated[tuple[UnitVector, ...], _THREE, AfterValidator(_proper)]
)
