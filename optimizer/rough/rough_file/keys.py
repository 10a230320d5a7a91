"""The kinds of values that rough files hold, checked on reading, and their TOML on writing."""

import math
import re
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    ConfigDict,
    Field,
    PlainValidator,
    TypeAdapter,
    model_validator,
)

from optimizer.files.border import OneLine, Table, shown

LEAST_CT, MOST_CT = 1e-5, 1e12  # finer than any balance; a mountain
FAR_MM = 1e6  # nothing marked lies farther from the scan's origin, or is larger


def _hex_colour(text: str) -> str:
    if not re.fullmatch("#[0-9a-fA-F]{6}", text):
        raise ValueError(f'must be a colour like "#c08040", got {shown(text)}')
    return text


def must_point(vector: list[float] | None) -> list[float] | None:
    """``vector`` where it is a direction. Raises ValueError where its length is nothing."""
    # The squares of very small numbers vanish: such a direction can't be scaled to length one.
    if vector is not None and not 1e-100 < math.hypot(*vector) < 1e100:
        raise ValueError("is no direction: its length must not be zero")
    return vector


Number = Annotated[float, Field(allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Point = Annotated[list[Number], Field(min_length=3, max_length=3)]
Length = Annotated[float, Field(ge=0, le=FAR_MM)]
Width = Annotated[float, Field(gt=0, le=FAR_MM)]
Weighed = Annotated[float, Field(ge=LEAST_CT, le=MOST_CT)]
Srgb = Annotated[str, AfterValidator(_hex_colour)]

_Far = Annotated[float, Field(ge=-FAR_MM, le=FAR_MM)]
_NUMBERS = TypeAdapter(Annotated[list[_Far], Field(min_length=3, max_length=3)])
_DIRECTION = TypeAdapter(Annotated[Point, AfterValidator(must_point)])
_DEPTHS = TypeAdapter(dict[OneLine, _Far], config=ConfigDict(strict=True))


class FaceDirectionTable(Table):
    """A direction given by named faces: square to one, or along the edge of two."""

    square_to: OneLine | None = None
    along_edge: Annotated[list[OneLine], Field(min_length=2, max_length=2)] | None = None

    @model_validator(mode="after")
    def _one_of_them(self) -> "FaceDirectionTable":
        if (self.square_to is None) == (self.along_edge is None):
            raise ValueError("must have either square_to or along_edge")
        return self


def _place(value: Any) -> list[float] | dict[str, float]:
    if not isinstance(value, dict):
        return _NUMBERS.validate_python(value, strict=True)
    if len(value) != 3:
        raise ValueError(
            f"must be three numbers, or the distances from three named faces, got {shown(value)}"
        )
    return _DEPTHS.validate_python(value)


def _direction(value: Any) -> list[float] | FaceDirectionTable:
    if isinstance(value, dict):
        return FaceDirectionTable.model_validate(value)
    return _DIRECTION.validate_python(value, strict=True)


Place = Annotated[list[float] | dict[str, float], PlainValidator(_place)]
"""Three coordinates in mm in the piece's own frame, or depths below three named faces."""
Direction = Annotated[list[float] | FaceDirectionTable, PlainValidator(_direction)]
"""Three numbers in the piece's own frame, of any length, or a direction given by named faces."""
