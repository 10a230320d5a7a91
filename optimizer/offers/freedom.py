"""Which parameters of a design an order leaves free, in what range, and what is usual."""

from dataclasses import replace
from math import ceil, floor

from optimizer.design import full_parameters
from optimizer.design.family import Free, step_of
from optimizer.design.model import Design, Parameter
from optimizer.errors import InputError
from optimizer.order import Order, Range
from optimizer.trade.materials import Material
from optimizer.wording.plain_number import plain

MAINS = ("crown", "pavilion")
ABOUT_DEG = 1.0  # either side of the usual mains, which no eye tells; common practice, no source
WHOLE = 1e-6  # of a step: what rounding may take


def free_parameters(design: Design, order: Order, material: Material) -> tuple[Free, ...]:
    """The free parameters: those that the order gives a range, and the mains where it says
    nothing of them, in the design's own order.

    The mains' own range is a degree either side of what is usual: for the pavilion the middle of
    the species' usual mains, for the crown and species without that figure the design's default.
    Raises InputError where a range leaves the design's.
    """
    free = []
    for name, known in design.parameters.items():
        asked = order.parameters.get(name)
        if isinstance(asked, tuple):
            found = _asked(design, known, asked)
        elif asked is None and name in MAINS:
            found = _mains(design, known, material)
        else:
            continue
        if name == "girdle":
            found = _at_least(found, order.least_girdle_percent / 100.0)
        if found.low < found.high:
            free.append(found)
    return tuple(free)


def fixed_parameters(
    design: Design, order: Order, free: tuple[Free, ...], material: Material
) -> dict[str, float]:
    """Every other parameter that isn't at the design's default."""
    names = {f.name for f in free}
    fixed: dict[str, float] = {}
    for name, asked in order.parameters.items():
        if isinstance(asked, tuple):
            if name not in names:  # a range that holds one value
                fixed[name] = asked[1]
        else:
            fixed[name] = asked
    for name in MAINS:
        known = design.parameters.get(name)
        if known is not None and name not in names and name not in fixed:
            fixed[name] = _mains(design, known, material).usual
    full_parameters(design, fixed)  # unknown names, values out of range
    return fixed


def _asked(design: Design, known: Parameter, asked: Range) -> Free:
    low, high = asked
    if low < known.low or high > known.high:
        raise InputError(
            f"{design.name}: the order's {known.name} of {plain(low)} to {plain(high)} leaves the "
            f"design's range: it must lie between {plain(known.low)} and {plain(known.high)}"
        )
    return Free(known.name, low, high, known.default, step_of(design, known.name))


def _mains(design: Design, known: Parameter, material: Material) -> Free:
    """A degree either side of the usual, in whole steps inside the design's own range."""
    usual = known.default
    if known.name == "pavilion" and material.mains_deg is not None:
        usual = sum(material.mains_deg) / 2.0
    usual = min(max(usual, known.low), known.high)
    step = step_of(design, known.name)
    low = max(round(ceil((usual - ABOUT_DEG) / step - WHOLE) * step, 9), known.low)
    high = min(round(floor((usual + ABOUT_DEG) / step + WHOLE) * step, 9), known.high)
    return Free(known.name, low, high, usual, step)


def _at_least(free: Free, least: float) -> Free:
    return replace(free, low=min(max(free.low, least), free.high))


def asked_text(asked: float | Range) -> str:
    """A fixed value, or a range, in words."""
    return (
        f"{plain(asked[0])} to {plain(asked[1])}" if isinstance(asked, tuple) else f"{plain(asked)}"
    )
