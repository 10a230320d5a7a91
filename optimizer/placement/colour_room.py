"""What an order asks of a colour boundary that is no plane: walls, a solid to keep out of, a share.

A stone of one colour keeps, in a room between planes, above them all; elsewhere it keeps out of
the room of the other colour, as it does out of a flaw.
"""

from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats, Plane
from optimizer.order import Range, ZoneDemand
from optimizer.placement.containers import Planes
from optimizer.placement.demands import Demand, InRange, Measure, RelaxedDemand, share
from optimizer.placement.ground import Ground
from optimizer.placement.situation import Situation
from optimizer.rough.model import Flaw
from optimizer.wording.plain_number import plain


@dataclass(frozen=True)
class ColourRoom:
    """In the scan frame. ``planes``: those above which the stone keeps by ``keep_mm``; ``solid``:
    what it keeps out of; ``round_about``: planes above which it then keeps as well, which tell the
    bound of the solid; ``band``: two planes, between which ``share`` of its volume lies."""

    name: str
    planes: tuple[Plane, ...] = ()
    keep_mm: float = 0.0
    solid: Flaw | None = None
    round_about: tuple[Plane, ...] = ()
    band: tuple[Plane, Plane] | None = None
    share: Range = (0.0, 1.0)
    sentence: str = ""

    def walls(self, ground: Ground, skin_mm: float) -> tuple[Planes, ...]:
        """The planes as a container in the ground's own frame, the stone's skin taken off, which
        every container adds."""
        return self._above(self.planes, ground, skin_mm)

    def bounds(self, ground: Ground) -> tuple[Planes, ...]:
        """The planes above which every stone keeps, for the bound."""
        return self._above((*self.planes, *self.round_about), ground, 0.0)

    def _above(
        self, planes: tuple[Plane, ...], ground: Ground, skin_mm: float
    ) -> tuple[Planes, ...]:
        if not planes:
            return ()
        seen = [ground.plane(plane) for plane in planes]
        normals = np.array([-plane.normal for plane in seen])
        offsets = np.array([-plane.offset for plane in seen]) - (self.keep_mm - skin_mm)
        return (Planes(normals, offsets),)

    def demands(self, ground: Ground) -> tuple[Demand, ...]:
        """The share between the planes of a band, in the ground's own frame."""
        if self.band is None:
            return ()
        one, two = (ground.plane(plane) for plane in self.band)
        return (BandShare(self.sentence, one, _between(two), *self.share),)

    def within(self, ground: Ground, depths: Floats) -> tuple[Floats, Floats]:
        """The ground's places in the room and their depths, counted from the planes too; all of
        them, with the ``depths`` given, where none lies in it."""
        every = depths
        for plane in self.planes:
            seen = ground.plane(plane)
            depths = np.minimum(depths, ground.places @ seen.normal - seen.offset - self.keep_mm)
        if self.band is not None:
            one, two = (ground.plane(plane) for plane in self.band)
            heights = [ground.places @ plane.normal - plane.offset for plane in (one, two)]
            depths = depths - np.maximum(-np.minimum(*heights), 0.0)
        inside = depths > 0.0
        if not inside.any():
            return ground.places, every
        return ground.places[inside], depths[inside]


@dataclass(frozen=True)
class BandShare(InRange):
    """The share of the stone's volume in a band."""

    def relaxed(self, mm_per_radian: float, half: float) -> RelaxedDemand:
        """See Demand."""
        return self._relaxed_share(mm_per_radian)


def _between(other: Plane) -> Measure:
    """The share of the volume above a plane and ``other``, which faces it, and its gradient.

    No part of the stone is below both, so the shares above each add up to one and the band's.
    """

    def value(at: Situation, plane: Plane) -> float:
        return share.value(at, plane) + share.value(at, other) - at.mm_per_radian

    def gradient(at: Situation, plane: Plane) -> Floats:
        return share.gradient(at, plane) + share.gradient(at, other)

    return Measure(value, gradient)


def band_share(zone: ZoneDemand, band: tuple[Plane, Plane], within: bool) -> ColourRoom:
    """The demand that a share of the stone lies in a band, or, not ``within``, out of it."""
    assert zone.share_percent is not None
    low, high = (percent / 100.0 for percent in zone.share_percent)
    ends = (low, high) if within else (1.0 - high, 1.0 - low)
    told = f"{plain(zone.share_percent[0])} to {plain(zone.share_percent[1])} %"
    sentence = f'boundary "{zone.name}": {zone.colour} {told} of the volume'
    return ColourRoom(zone.name, band=band, share=ends, sentence=sentence)
