"""What one number of the scan is in millimetres."""

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from optimizer.errors import InputError, nearest
from optimizer.mesh import Floats
from optimizer.wording.plain_number import plain

MM_PER_UNIT = {"um": 0.001, "mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}

# Limits on the longest side of gem rough that is cut by hand (common practice, no source). Within
# the inner pair nothing is said. Beyond it the size is doubted; beyond the outer pair, ten times as
# wide, it is refused as a mistake.
FITS_MM = (2.0, 300.0)
SURE_MM = (5.0, 100.0)
POSSIBLE_MM = (0.2, 3000.0)


def mm_per_unit(unit: str) -> float:
    """Raises InputError with the nearest unit where ``unit`` is none."""
    if unit not in MM_PER_UNIT:
        raise InputError(f'unit "{unit}" is not known; {nearest(unit, MM_PER_UNIT)}')
    return MM_PER_UNIT[unit]


def longest_side(points: Floats) -> float:
    """The longest side of the box around ``points`` (n, 3), in their unit."""
    with np.errstate(over="ignore"):
        return float(np.ptp(points, axis=0).max())


def size_of(points: Floats, name: str) -> float:
    """``longest_side``. Raises InputError where the points span nothing, or more than a number
    holds."""
    longest = longest_side(points)
    if longest == 0.0:
        raise InputError(f"{name}: all points lie at one spot; save the scan again")
    if not np.isfinite(longest):
        raise InputError(f"{name}: the points lie too far apart; save the scan again")
    return longest


def settle_scale(
    stated: float | None, longest: float, name: str, source: str = "the unit"
) -> tuple[float, tuple[str, ...]]:
    """(mm per unit, warnings) for a scan whose longest side is ``longest`` of its own units.

    ``source`` is what states the scale. Raises InputError where the piece would be no piece, or no
    unit is stated and millimetres do not fit.
    """
    if stated is not None:
        others = _fitting(longest) if source == "the unit" else {}
        refuse_impossible(stated * longest, name, source, others)
        return stated, size_doubt(stated * longest, source)
    if not FITS_MM[0] <= longest <= FITS_MM[1]:
        raise _names_units_that_fit(longest, name)
    if SURE_MM[0] <= longest <= SURE_MM[1]:
        return 1.0, ()
    return 1.0, (
        f"no unit is stated; taken as millimetres the longest side is {_mm(longest)}, unusual "
        f"for a piece to cut: state the unit{_others(longest)}",
    )


def refuse_impossible(
    longest_mm: float, name: str, check: str, others: Mapping[str, float] = MappingProxyType({})
) -> None:
    """Raise InputError where a piece is off by orders of magnitude; ``check`` says what settles
    its size, ``others`` the units that would fit and the sizes they give, mm."""
    if POSSIBLE_MM[0] <= longest_mm <= POSSIBLE_MM[1]:
        return
    hint = f" ({_choice(others)} would fit)" if others else ""
    raise InputError(f"{name}: the piece is {_mm(longest_mm)} long: check {check}{hint}")


def size_doubt(longest_mm: float, check: str) -> tuple[str, ...]:
    """A warning where a piece's longest side is no size for one; ``check`` says what settles it."""
    if FITS_MM[0] <= longest_mm <= FITS_MM[1]:
        return ()
    return (f"the longest side is {_mm(longest_mm)}, unusual for a piece to cut: check {check}",)


def _mm(length: float) -> str:
    return f"{plain(length, 4)} mm"


def _fitting(longest: float, limits: tuple[float, float] = FITS_MM) -> dict[str, float]:
    """Each unit that gives a believable piece, and the longest side it gives, mm."""
    sizes = {unit: scale * longest for unit, scale in MM_PER_UNIT.items()}
    return {u: size for u, size in sizes.items() if limits[0] <= size <= limits[1]}


def _choice(sizes: Mapping[str, float]) -> str:
    return " or ".join(f"{unit} ({_mm(size)})" for unit, size in sizes.items())


def _others(longest: float) -> str:
    fits = [f"{u} gives {_mm(size)}" for u, size in _fitting(longest).items() if u != "mm"]
    return f" ({', '.join(fits)})" if fits else ""


def _names_units_that_fit(longest: float, name: str) -> InputError:
    fits = _fitting(longest) or _fitting(longest, POSSIBLE_MM)
    advice = (
        f"state the right one with --unit, or unit = in a rough file: {_choice(fits)}"
        if fits
        else "state mm_per_unit = in a rough file"
    )
    return InputError(
        f"{name}: no unit is stated and the longest side is {plain(longest, 4)}, which in "
        f"millimetres is unusual for a piece to cut; {advice}"
    )
