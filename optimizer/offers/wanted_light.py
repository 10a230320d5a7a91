"""A design's angles limited to those at which the light is as the order asks. The light of a clear
stone depends on its angles, not on where it lies in the rough."""

from dataclasses import replace

import numpy as np

from optimizer.design.family import Family
from optimizer.errors import InputError
from optimizer.offers.freedom import MAINS
from optimizer.offers.light_grid import angles_to_try, body_of, narrowed
from optimizer.offers.offer import Offer
from optimizer.offers.usual_light import with_usual_light
from optimizer.optics.angles import AngleLight, largest_rectangle, light_over
from optimizer.optics.look_demands import light_demands
from optimizer.order import LookDemand, Order
from optimizer.rough.model import Rough
from optimizer.trade.materials import Material
from optimizer.wording.plain_number import plain

LIGHT_MARGIN = 0.005  # margin of the ranges: about the error of the grid's figures
USUAL_WIDTH_MM = 8.0  # for figures of light, which hardly change with the size


def with_light(rough: Rough, order: Order, offer: Offer) -> Offer:
    """The offer with its angles limited to those at which the light is as ordered; where the order
    asks for none, to those that cost little of the usual angles' light.

    Where no angles in the usual ranges meet the order, the main angles of which the order says
    nothing may take the design's whole range. Raises InputError where no angles meet the order.
    """
    look = order.look
    if look is None or not look.of_light:
        return with_usual_light(offer, order, rough.material)
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
    return narrowed(offer, family, (tried.crowns, tried.pavilions), found, MAINS)


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
    crowns, pavilions = (angles_to_try(family, name, start.get(name, 0.0)) for name in MAINS)
    low, high = offer.want.width_mm
    width = min(max(USUAL_WIDTH_MM, low), high)
    return light_over(body_of(family), width, material, crowns, pavilions)


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
