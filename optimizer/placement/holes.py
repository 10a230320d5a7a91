"""Solids in the rough that a stone must not enter, and flaws that only the table must not show."""

from dataclasses import dataclass

from optimizer.mesh import Floats
from optimizer.placement.containers import Container, Rows, Surface
from optimizer.placement.growth import Growth


@dataclass(frozen=True)
class Hole:
    """A closed solid that the stone must stay out of; exact.

    Its surface alone would let a small stone lie wholly within. There the gauge turns about: it
    is negative, and least where the surface is farthest.
    """

    surface: Surface

    def gauge(
        self, growths: tuple[Growth, ...], rotation: Floats, translation: Floats, floor: float
    ) -> float:
        """See Container."""
        value = self.surface.gauge(growths, rotation, translation, floor)
        return -abs(value) if self.surface.holds(translation) else value

    def rows(
        self,
        growths: tuple[Growth, ...],
        rotation: Floats,
        translation: Floats,
        sigma: float,
        band: float,
        lever: float,
    ) -> Rows:
        """See Container."""
        return self.surface.rows(growths, rotation, translation, sigma, band, lever)


@dataclass(frozen=True)
class UnderTable:
    """What only the part of the stone straight below its table must stay clear of."""

    container: Container

    def gauge(
        self, growths: tuple[Growth, ...], rotation: Floats, translation: Floats, floor: float
    ) -> float:
        """See Container."""
        parts = tuple(growth.under_table for growth in growths)
        return self.container.gauge(parts, rotation, translation, floor)

    def rows(
        self,
        growths: tuple[Growth, ...],
        rotation: Floats,
        translation: Floats,
        sigma: float,
        band: float,
        lever: float,
    ) -> Rows:
        """See Container."""
        parts = tuple(growth.under_table for growth in growths)
        return self.container.rows(parts, rotation, translation, sigma, band, lever)
