"""A stone to look at as the command line tells it."""

import math
import re
from collections.abc import Sequence

from optimizer.design import build_body, load_design
from optimizer.errors import InputError
from optimizer.materials import load_material
from optimizer.optics.boundary_forms import plane_form
from optimizer.optics.colouring import CLEAR_TINT, Colouring, Tint, one_colour, tint_of
from optimizer.optics.look import Cut
from optimizer.rough.model import Colour, Slice

THICKEST_MM = 1000.0
Boundary = tuple[float, float, float]  # tilt and azimuth in degrees, offset


def cut_asked(design: str, material: str, width: float, settings: Sequence[str]) -> Cut:
    """The design at ``width`` mm with ``settings`` such as "crown=35".

    Raises InputError where one of them is unknown or can't be cut.
    """
    if not 0.1 <= width <= 1000.0:
        raise InputError(f"--width is {width:g}; give millimetres, 0.1 to 1000")
    body = build_body(load_design(design), dict(_setting(text) for text in settings))
    return Cut(body, width, load_material(material))


def _setting(text: str) -> tuple[str, float]:
    name, equals, value = text.partition("=")
    try:
        if not equals or not name:
            raise ValueError
        return name.strip(), float(value)
    except ValueError:
        raise InputError(f'--set "{text}" is not NAME=NUMBER, such as crown=35') from None


def colouring_asked(
    cut: Cut, whole: str | None, towards: str | None, away: str | None, boundary: Boundary | None
) -> Colouring:
    """One colour, two with a boundary between them, or clear.

    Raises InputError where the options don't fit together or a colour is told wrongly.
    """
    if whole is not None and (towards or away):
        raise InputError("--colour is for a stone of one colour; drop it, or --towards and --away")
    if (towards is None) != (away is None):
        missing = "--away" if away is None else "--towards"
        raise InputError(f"two colours meet at a boundary: give {missing} too")
    if boundary is not None and towards is None:
        raise InputError("--tilt, --azimuth and --offset lay a boundary: give --towards and --away")
    if boundary is not None and not all(math.isfinite(number) for number in boundary):
        raise InputError("--tilt, --azimuth and --offset must be finite numbers")
    if towards is None or away is None:
        return one_colour(CLEAR_TINT if whole is None else _tint(whole, "--colour"))
    forms = plane_form(cut.corners, *(boundary or (0.0, 0.0, 0.0)))
    first, second = _tint(towards, "--towards"), _tint(away, "--away")
    return Colouring(first, second, forms, zone="boundary")


def _tint(text: str, option: str) -> Tint:
    slices = tuple(_slice(part, option) for part in text.split(","))
    return tint_of(Colour(slices[0].srgb, slices[0].srgb, slices))


def _slice(text: str, option: str) -> Slice:
    told = re.fullmatch(r"\s*#?([0-9a-fA-F]{6})(?:@([0-9.]+))?\s*", text)
    try:
        if told is None:
            raise ValueError
        mm = None if told[2] is None else float(told[2])
        if mm is not None and not 0.0 < mm <= THICKEST_MM:
            raise ValueError
    except ValueError:
        raise InputError(
            f'{option} "{text}" is no colour: give sRGB and the mm that show it, such as 7a4fb0@5, '
            "and more of them behind commas"
        ) from None
    return Slice(f"#{told[1].lower()}", mm)
