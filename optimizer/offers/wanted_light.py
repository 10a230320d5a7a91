"""A design's angles limited to those at which the light is as the order asks. The light of a clear
stone depends on its angles, not on where it lies in the rough."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from optimizer.design.family import Family
from optimizer.design.model import Body
from optimizer.errors import InputError
from optimizer.mesh import Floats
from optimizer.offers.freedom import MAINS
from optimizer.offers.offer import Offer
from optimizer.optics.angles import AngleLight, largest_rectangle, light_over
from optimizer.optics.look_demands import light_demands
from optimizer.order import LookDemand, Order
from optimizer.placement.shaping import Freedom
from optimizer.rough.model import Rough
from optimizer.trade.materials import Material
from optimizer.wording.plain_number import plain

LIGHT_MARGIN = 0.005  # margin of the ranges: about the error of the grid's figures
USUAL_WIDTH_MM = 8.0  # for figures of light, which hardly change with the size
LEAST_STEPS = 5  # at least so many angles are tried over a free range
WIDE_STEP_DEG = 1.0  # step over a wide range


def with_light(rough: Rough, order: Order, offer: Offer) -> Offer:
    """The offer with its angles limited to those at which the light is as ordered.

    Where no angles in the usual ranges meet the order, the main angles of which the order says
    nothing may take the design's whole range. Raises InputError where no angles meet the order.
    """
    look = order.look
    if look is None or not look.of_light:
        return offer
    family = _family(offer, order)
    tried = _light_grid(family, rough.material, offer)
    met = _light_met(tried, look)
    if not met.any():
        family = _widened(family, order)
        tried = _light_grid(family, rough.material, offer)
        met = _light_met(tried, look)
    found = largest_rectangle(met)
    if found is None:
        raise InputError(_unmet_message(offer, rough.material, look, tried))
    return _narrowed(offer, family, tried, found)


def _family(offer: Offer, order: Order) -> Family:
    if offer.freedom is not None:
        return offer.freedom.family
    share = order.least_girdle_percent / 100.0
    return Family(offer.design, offer.parameters, (), order.least_girdle_mm, share)


def _widened(family: Family, order: Order) -> Family:
    """The family in which the main angles of which the order says nothing take the design's whole
    range."""
    free = []
    for one in family.free:
        known = family.design.parameters[one.name]
        if one.name in MAINS and one.name not in order.parameters:
            one = replace(one, low=known.low, high=known.high)
        free.append(one)
    return replace(family, free=tuple(free), _cells={})


def _light_grid(family: Family, material: Material, offer: Offer) -> AngleLight:
    start = family.parameters(family.usual)
    crowns, pavilions = (_angles_to_try(family, name, start.get(name, 0.0)) for name in MAINS)
    low, high = offer.want.width_mm
    width = min(max(USUAL_WIDTH_MM, low), high)
    return light_over(_body_of(family), width, material, crowns, pavilions)


def _angles_to_try(family: Family, name: str, value: float) -> Floats:
    """The angles to try: whole steps over a free range, or the one fixed angle."""
    free = next((one for one in family.free if one.name == name), None)
    if free is None:
        return np.array([value])
    count = max(LEAST_STEPS, round((free.high - free.low) / WIDE_STEP_DEG) + 1)
    whole = np.round(np.linspace(free.low, free.high, count) / free.step) * free.step
    return np.unique(np.clip(np.round(whole, 9), free.low, free.high))


def _body_of(family: Family) -> Callable[[float, float], Body | None]:
    def body(crown: float, pavilion: float) -> Body | None:
        chosen = {"crown": crown, "pavilion": pavilion}
        names = [one.name for one in family.free]
        values = family.usual.copy()
        for name, value in chosen.items():
            if name in names:
                values[names.index(name)] = value
        try:
            return family.exact(values)
        except InputError:
            return None

    return body


def _light_met(tried: AngleLight, look: LookDemand) -> np.ndarray:
    met = np.isfinite(tried.light_return)
    for one in light_demands(look):
        values = tried.window if one.key == "window_percent" else tried.light_return
        low, high = one.low + LIGHT_MARGIN, one.high - LIGHT_MARGIN
        if one.key == "window_percent":
            high = max(high, one.high / 2.0)
        met &= (values >= low) & (values <= high)
    return met


def _unmet_message(offer: Offer, material: Material, look: LookDemand, tried: AngleLight) -> str:
    best = np.unravel_index(
        int(np.nanargmax(tried.light_return - tried.window)), tried.window.shape
    )
    asked = " and ".join(one.words for one in light_demands(look))
    return (
        f"{offer.design.name}: no angles of crown and pavilion give {asked} in {material.name}; "
        f"the nearest found are crown {plain(tried.crowns[best[0]])} and pavilion "
        f"{plain(tried.pavilions[best[1]])} degrees, with a light return of "
        f"{100.0 * tried.light_return[best]:.0f} % and a window of "
        f"{100.0 * tried.window[best]:.0f} %; ask for less in [look] or free the angles"
    )


def _narrowed(offer: Offer, family: Family, tried: AngleLight, found: tuple[slice, slice]) -> Offer:
    ranges = {
        name: (float(angles[part][0]), float(angles[part][-1]))
        for name, angles, part in zip(MAINS, (tried.crowns, tried.pavilions), found, strict=True)
    }
    fixed, free = dict(family.fixed), []
    for one in family.free:
        low, high = ranges.get(one.name, (one.low, one.high))
        if low < high:
            free.append(replace(one, low=low, high=high))
        else:
            fixed[one.name] = low
    family = replace(family, fixed=fixed, free=tuple(free), _cells={})
    body = family.exact(family.usual)
    given = {**family.parameters(family.usual), "girdle": body.girdle_share}
    if offer.freedom is None or not free:
        window = offer.want.width_mm if offer.freedom is None else offer.freedom.window(body)
        want = replace(offer.want, body=body, width_mm=window)
        return replace(offer, parameters=given, want=want, freedom=None)
    want = replace(offer.want, body=body, width_mm=offer.freedom.window(body))
    return replace(
        offer, parameters=given, want=want, freedom=Freedom(family, offer.freedom.window)
    )
