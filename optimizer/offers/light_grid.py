"""Main angles tried for their light, the bodies at them, and offers narrowed to some of them."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from optimizer.design.family import Family
from optimizer.design.model import Body
from optimizer.errors import InputError
from optimizer.mesh import Floats
from optimizer.offers.freedom import MAINS
from optimizer.offers.offer import Offer

LEAST_STEPS = 5  # at least so many angles are tried over a free range
WIDE_STEP_DEG = 1.0  # step over a wide range


def angles_to_try(family: Family, name: str, value: float) -> Floats:
    """The angles to try: whole steps over a free range, or the one fixed angle."""
    free = next((one for one in family.free if one.name == name), None)
    if free is None:
        return np.array([value])
    count = max(LEAST_STEPS, round((free.high - free.low) / WIDE_STEP_DEG) + 1)
    whole = np.round(np.linspace(free.low, free.high, count) / free.step) * free.step
    return np.unique(np.clip(np.round(whole, 9), free.low, free.high))


def body_of(family: Family) -> Callable[[float, float], Body | None]:
    """The body at a crown and a pavilion angle in degrees, other free parameters at their usual
    values; None where a facet is lost."""

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


def narrowed(
    offer: Offer,
    family: Family,
    axes: tuple[Floats, Floats],
    found: tuple[slice, slice],
    names: Sequence[str],
) -> Offer:
    """The offer with the mains ``names`` limited to the angles ``found`` on the ``axes`` tried."""
    ranges = {
        name: (float(angles[part][0]), float(angles[part][-1]))
        for name, angles, part in zip(MAINS, axes, found, strict=True)
        if name in names
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
        offer, parameters=given, want=want, freedom=replace(offer.freedom, family=family)
    )
