"""Solids in the rough that a stone must not enter, and flaws that only the table must not show."""

from dataclasses import dataclass, replace

from optimizer.placement.containers import Container, Rows, Surface
from optimizer.placement.situation import Situation


@dataclass(frozen=True)
class Hole:
    """A closed solid that the stone must stay out of; exact.

    Its surface alone would allow a small stone that lies wholly inside the hole. There the gauge
    is made negative: the deeper inside, the lower.
    """

    surface: Surface

    def gauge(self, at: Situation, floor: float) -> float:
        """See Container."""
        value = self.surface.gauge(at, floor)
        return -abs(value) if self.surface.holds(at.translation) else value

    def rows(self, at: Situation, band: float) -> Rows:
        """See Container."""
        return self.surface.rows(at, band)


@dataclass(frozen=True)
class UnderTable:
    """What only the part of the stone straight below its table must stay clear of."""

    container: Container

    def gauge(self, at: Situation, floor: float) -> float:
        """See Container."""
        return self.container.gauge(_under_table(at), floor)

    def rows(self, at: Situation, band: float) -> Rows:
        """See Container."""
        return self.container.rows(_under_table(at), band)


def _under_table(at: Situation) -> Situation:
    """The part of the stone straight below its table, at the same pose."""
    parts = tuple(growth.under_table for growth in at.growing.growths)
    return replace(at, growing=replace(at.growing, growths=parts))
