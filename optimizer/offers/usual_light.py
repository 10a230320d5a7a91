"""Main angles that are free by default, limited to those that cost the look little: the light
return falls, and the window grows, by no more than the order allows beside the usual angles."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from optimizer.design.family import Family
from optimizer.design.model import Body
from optimizer.mesh import Floats
from optimizer.offers.freedom import MAINS
from optimizer.offers.light_grid import angles_to_try, body_of, narrowed
from optimizer.offers.offer import Offer
from optimizer.optics.angles import (
    AngleLight,
    ClearLight,
    largest_rectangle,
    light_by_turn,
    light_over,
)
from optimizer.optics.look import UPRIGHT
from optimizer.order import Order
from optimizer.trade.materials import Material

WIDTH_MM = 8.0  # figures of light hardly change with the size
PLACES = 1200  # per face: figures within about 0.01, in less than 0.1 s of processor time a body
ANY_PERCENT = 100.0  # the order takes any light


def with_usual_light(offer: Offer, order: Order, material: Material) -> Offer:
    """The offer with the main angles of which the order says nothing limited, and the light of the
    usual angles noted. Every range keeps the usual angle, or the nearest to it in the range."""
    family = None if offer.freedom is None else offer.freedom.family
    mains = [] if family is None else [one for one in family.free if one.name in MAINS]
    limited = [one.name for one in mains if one.name not in order.parameters]
    if family is None or not limited:
        return offer
    anything = order.light_loss_percent >= ANY_PERCENT
    tried = _light_of(_Setting.of(family, () if anything else limited, material))
    start = family.parameters(family.usual)
    at = tuple(
        int(np.argmin(np.abs(axis - start[name]))) if name in start else 0
        for name, axis in zip(MAINS, (tried.crowns, tried.pavilions), strict=True)
    )
    light = ClearLight(float(tried.light_return[at]), float(tried.window[at]))
    offer = replace(offer, usual_light=light)
    if anything:
        return offer
    loss = order.light_loss_percent / 100.0
    met = (tried.light_return >= light.light_return - loss) & (tried.window <= light.window + loss)
    met[at] = True
    found = largest_rectangle(met, holding=(at[0], at[1]))
    assert found is not None
    return narrowed(offer, family, tried, found, limited)


def clear_light(body: Body, material: Material) -> ClearLight:
    """The light of a body as it was traced to limit angles, to be told beside the usual light."""
    (light,) = light_by_turn(body, WIDTH_MM, material, (UPRIGHT,), PLACES)
    return ClearLight(light.light_return, light.window)


@dataclass(frozen=True)
class _Setting:
    """A family and the mains tried, by all that their light depends on."""

    text: str
    family: Family = field(compare=False)
    axes: tuple[Floats, Floats] = field(compare=False)
    material: Material = field(compare=False)

    @staticmethod
    def of(family: Family, limited: Sequence[str], material: Material) -> "_Setting":
        """Each limited main over its range, its usual angle among those tried; others fixed."""
        start = family.parameters(family.usual)
        crowns, pavilions = (
            _with(angles_to_try(family, name, start.get(name, 0.0)), start[name])
            if name in limited
            else np.array([start.get(name, 0.0)])
            for name in MAINS
        )
        known = (family.design, start, family.least_girdle_mm, family.least_girdle_share)
        text = repr((*known, family.free, crowns.tolist(), pavilions.tolist(), material))
        return _Setting(text, family, (crowns, pavilions), material)


def _with(angles: Floats, usual: float) -> Floats:
    """The angles, with the usual one among them."""
    return angles if np.abs(angles - usual).min() < 1e-9 else np.sort(np.append(angles, usual))


@lru_cache(maxsize=64)  # designs and species of one run: tracing takes a second for each
def _light_of(setting: _Setting) -> AngleLight:
    built = body_of(setting.family)
    return light_over(built, WIDTH_MM, setting.material, *setting.axes, places=PLACES)
