"""The two dyes of a colour zone, one for each side."""

import numpy as np

from optimizer.optics.colouring import tint_of
from optimizer.optics.dye import Dye
from optimizer.rough.model import Colour, Zone


def zone_dyes(zone: Zone, colour: str) -> tuple[Dye, Dye]:
    """(the dye of the side named ``colour``, the dye of the other side). Where a colour differs
    along the crystal's axes, its dye is the mean over the axes."""
    sides = (zone.towards, zone.away)
    one, other = sides if colour == zone.towards.name else sides[::-1]
    return _dye(one), _dye(other)


def _dye(colour: Colour) -> Dye:
    tint = tint_of(colour)
    if not tint.by_axis:
        return tint.dyes[0]
    return Dye(np.mean([dye.per_mm for dye in tint.dyes], axis=0), tint.misfit)
