"""What one number of the scan is in millimetres."""

import numpy as np

from optimizer.errors import InputError, nearest
from optimizer.mesh import Floats

MM_PER_UNIT = {"um": 0.001, "mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}

# A piece of gem rough that is cut by hand has its longest side between these (common practice, no
# source); within the inner pair nobody would doubt it.
FITS_MM = (2.0, 300.0)
SURE_MM = (5.0, 100.0)


def mm_per_unit(unit: str) -> float:
    """Raises InputError with the nearest unit where ``unit`` is none."""
    if unit not in MM_PER_UNIT:
        raise InputError(f'unit "{unit}" is not known; {nearest(unit, MM_PER_UNIT)}')
    return MM_PER_UNIT[unit]


def longest_side(points: Floats) -> float:
    """Of the box around ``points`` (n, 3), in their unit."""
    with np.errstate(over="ignore"):
        return float(np.ptp(points, axis=0).max())


def settle_scale(stated: float | None, longest: float, name: str) -> tuple[float, tuple[str, ...]]:
    """(mm per unit, warnings) for a scan whose longest side is ``longest`` of its own units.

    Raises InputError where no unit is stated and millimetres do not fit.
    """
    if stated is not None:
        return stated, size_doubt(stated * longest, "the unit")
    if not FITS_MM[0] <= longest <= FITS_MM[1]:
        raise _names_units_that_fit(longest, name)
    if SURE_MM[0] <= longest <= SURE_MM[1]:
        return 1.0, ()
    return 1.0, (
        f"no unit is stated; taken as millimetres the longest side is {longest:.4g} mm, unusual "
        f"for a piece to cut: state the unit{_others(longest)}",
    )


def size_doubt(longest_mm: float, check: str) -> tuple[str, ...]:
    """A warning where a piece's longest side is no size for one; ``check`` says what settles it."""
    if FITS_MM[0] <= longest_mm <= FITS_MM[1]:
        return ()
    size = f"{longest_mm:,.6g} mm"
    return (f"the longest side is {size}, unusual for a piece to cut: check {check}",)


def _fitting(longest: float) -> dict[str, float]:
    """Each unit that gives a believable piece, and the longest side it gives, mm."""
    sizes = {unit: scale * longest for unit, scale in MM_PER_UNIT.items()}
    return {u: size for u, size in sizes.items() if FITS_MM[0] <= size <= FITS_MM[1]}


def _others(longest: float) -> str:
    fits = [f"{u} gives {size:.4g} mm" for u, size in _fitting(longest).items() if u != "mm"]
    return f" ({', '.join(fits)})" if fits else ""


def _names_units_that_fit(longest: float, name: str) -> InputError:
    fits = [f"{unit} ({size:.4g} mm)" for unit, size in _fitting(longest).items()]
    advice = f"state one that fits: {' or '.join(fits)}" if fits else "state mm_per_unit"
    return InputError(
        f"{name}: no unit is stated and the longest side is {longest:.4g}, which is no size in "
        f"millimetres for a piece to cut; {advice}, with unit = in a rough file or --unit"
    )
