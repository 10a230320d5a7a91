"""The parameters of a design that an order leaves free: their ranges and their usual values."""

from dataclasses import replace
from math import ceil, floor

from optimizer.design import full_parameters
from optimizer.design.family import Free, step_of
from optimizer.design.model import Design, Parameter
from optimizer.errors import InputError
from optimizer.order import Order, Range, SizeDemand
from optimizer.trade.materials import Material
from optimizer.wording.plain_number import plain

MAINS = ("crown", "pavilion")
PROPORTION = "length_to_width"
ABOUT_DEG = 1.0  # either side of the usual mains: no eye sees it; common practice, no source
WHOLE = 1e-6  # of a step: tolerance for rounding


def free_parameters(design: Design, order: Order, material: Material) -> tuple[Free, ...]:
    """The free parameters, in the design's own order: those for which the order gives a range, the
    main angles of which it says nothing, and the length-to-width where the order gives a range of
    widths and one of lengths and says nothing of their ratio.

    The main angles are free by a degree either side of the usual angle. For the pavilion that is
    the middle of the species' usual range; for the crown, and for a species without such a range,
    it is the design's default. Raises InputError where a range leaves the design's.
    """
    free = []
    for name, known in design.parameters.items():
        asked = order.parameters.get(name)
        if isinstance(asked, tuple):
            found = _ordered_range(design, known, asked)
        elif asked is None and name in MAINS:
            found = _main_angle(design, known, material)
        elif asked is None and name == PROPORTION and (ratios := ratio_range(order.size)):
            low, high = max(ratios[0], known.low), min(ratios[1], known.high)
            found = Free(name, low, high, known.default, step_of(design, name))
        else:
            continue
        if name == "girdle":
            found = _from_least(found, order.least_girdle_percent / 100.0)
        if found.low < found.high:
            free.append(found)
    return tuple(free)


def ratio_range(size: SizeDemand) -> Range | None:
    """The range of length-to-width that a width and a length ordered together allow."""
    if not size.width_mm or not size.length_mm:
        return None
    low = size.length_mm[0] / size.width_mm[1]
    return low, size.length_mm[1] / size.width_mm[0] if size.width_mm[0] else float("inf")


def fixed_parameters(
    design: Design, order: Order, free: tuple[Free, ...], material: Material
) -> dict[str, float]:
    """The values of the other parameters that differ from the design's defaults."""
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
            fixed[name] = _main_angle(design, known, material).usual
    full_parameters(design, fixed)  # raises for unknown names and values out of range
    return fixed


def _ordered_range(design: Design, known: Parameter, asked: Range) -> Free:
    low, high = asked
    if low < known.low or high > known.high:
        raise InputError(
            f"{design.name}: the order's {known.name} of {plain(low)} to {plain(high)} leaves the "
            f"design's range: it must lie between {plain(known.low)} and {plain(known.high)}"
        )
    return Free(known.name, low, high, known.default, step_of(design, known.name))


def _main_angle(design: Design, known: Parameter, material: Material) -> Free:
    """A main angle, free by a degree either side of the usual one, in whole steps inside the
    design's own range.

    The species' usual mains count where that range holds them: three mains, for one, return light
    only where they are far steeper. They are no measure for the bevel around a flat base.
    """
    usual = known.default
    has_mains = known.name == "pavilion" and design.promise.bottom != "flat"
    if has_mains and material.mains_deg is not None:
        middle = sum(material.mains_deg) / 2.0
        usual = middle if known.low <= middle <= known.high else usual
    step = step_of(design, known.name)
    low = max(round(ceil((usual - ABOUT_DEG) / step - WHOLE) * step, 9), known.low)
    high = min(round(floor((usual + ABOUT_DEG) / step + WHOLE) * step, 9), known.high)
    return Free(known.name, low, high, usual, step)


def _from_least(free: Free, least: float) -> Free:
    return replace(free, low=min(max(free.low, least), free.high))


def asked_text(asked: float | Range) -> str:
    """A fixed value, or a range, in words."""
    return (
        f"{plain(asked[0])} to {plain(asked[1])}" if isinstance(asked, tuple) else f"{plain(asked)}"
    )
