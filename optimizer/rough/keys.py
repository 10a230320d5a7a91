"""The kinds of values that rough files hold, checked on reading, and their TOML on writing."""

import json
import math
import re
from typing import Annotated, Any

import numpy as np
from pydantic import AfterValidator, Field

from optimizer.border import shown

FAR_MM = 1e6  # nothing marked lies farther from the scan's origin, or is larger


def _hex_colour(text: str) -> str:
    if not re.fullmatch("#[0-9a-fA-F]{6}", text):
        raise ValueError(f'must be a colour like "#c08040", got {shown(text)}')
    return text


def must_point(vector: list[float] | None) -> list[float] | None:
    """``vector`` where it is a direction. Raises ValueError where its length is nothing."""
    # Squares of the least numbers vanish: such a direction cannot be made one long.
    if vector is not None and not 1e-100 < math.hypot(*vector) < 1e100:
        raise ValueError("is no direction: its length must not be zero")
    return vector


Number = Annotated[float, Field(allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Point = Annotated[list[Number], Field(min_length=3, max_length=3)]
Place = Annotated[
    list[Annotated[float, Field(ge=-FAR_MM, le=FAR_MM)]], Field(min_length=3, max_length=3)
]
Length = Annotated[float, Field(ge=0, le=FAR_MM)]
Srgb = Annotated[str, AfterValidator(_hex_colour)]
Direction = Annotated[Point, AfterValidator(must_point)]


def toml_lines(facts: dict[str, Any]) -> list[str]:
    """A line for each key whose value is known."""
    return [f"{key} = {toml(value)}" for key, value in facts.items() if value is not None]


def toml(value: Any) -> str:
    """A string, number, vector or table as TOML; doubles keep every digit."""
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)  # names are printable, so JSON's escapes do
    if isinstance(value, dict):
        return "{ " + ", ".join(toml_lines(value)) + " }"
    if np.ndim(value):
        return "[" + ", ".join(toml(x) for x in value) + "]"
    return repr(float(value))
