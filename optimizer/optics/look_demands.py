"""The order's demands on the look, and whether the figures of a stone meet them."""

from collections.abc import Iterator
from dataclasses import dataclass

from optimizer.optics.figures import LightFigures, ZoneFigures
from optimizer.order import LookDemand
from optimizer.wording.plain_number import plain

INDISTINCT = "the face does not tell the two colours apart"


@dataclass(frozen=True)
class FigureDemand:
    """One demand on the look: a figure from 0 to 1 that must lie from ``low`` to ``high``."""

    key: str  # of the order's [look]
    words: str
    low: float
    high: float

    def shortfall(self, value: float) -> float:
        """How far ``value`` lies outside the demand; negative where it lies inside."""
        return max(self.low - value, value - self.high)


def colour_demands(asked: LookDemand) -> tuple[FigureDemand, ...]:
    """The demands that depend on where the boundary runs."""
    found = []
    if asked.face_percent is not None:
        low, high = asked.face_percent
        words = f"{plain(low)} to {plain(high)} % of the face {asked.colour}"
        found.append(FigureDemand("face_percent", words, _end(low, 0.0), _end(high, 100.0)))
    for key, pair in (("balance_of_halves", "halves"), ("balance_of_ends", "ends")):
        least = getattr(asked, key)
        if least is not None:
            found.append(
                FigureDemand(key, f"a balance of the {pair} of {plain(least)} or more", least, 9.0)
            )
    if asked.difference_of_ends is not None:
        least = asked.difference_of_ends
        words = f"a difference of the ends of {plain(least)} or more"
        found.append(FigureDemand("difference_of_ends", words, least, 9.0))
    return tuple(found)


def light_demands(asked: LookDemand) -> tuple[FigureDemand, ...]:
    """The demands that depend only on the design and its angles."""
    found = []
    if asked.light_return_percent is not None:
        words = f"a light return of {plain(asked.light_return_percent)} % or more"
        key = "light_return_percent"
        found.append(FigureDemand(key, words, asked.light_return_percent / 100.0, 9.0))
    if asked.window_percent is not None:
        words = f"a window of {plain(asked.window_percent)} % of the face or less"
        found.append(FigureDemand("window_percent", words, -9.0, asked.window_percent / 100.0))
    return tuple(found)


def _end(percent: float, most: float) -> float:
    """A limit of 0 or 100 % is lifted, so that a margin does not narrow it."""
    if percent == most:
        return -9.0 if most == 0.0 else 9.0
    return percent / 100.0


def zone_value(key: str, figures: ZoneFigures) -> float:
    """The figure that ``key`` asks about."""
    return figures.share if key == "face_percent" else float(getattr(figures, key))


def light_value(key: str, figures: LightFigures) -> float:
    """The figure that ``key`` asks about."""
    return figures.window if key == "window_percent" else figures.light_return


def unmet(
    asked: LookDemand, light: LightFigures, zone: ZoneFigures | None, slack: float = 0.0
) -> Iterator[str]:
    """Each demand that the figures miss by more than ``slack``, with the measured value."""
    values = [(one, light_value(one.key, light)) for one in light_demands(asked)]
    if zone is not None and not zone.distinct:
        yield from (f"{one.words}: {INDISTINCT}" for one in colour_demands(asked))
    elif zone is not None:
        values += [(one, zone_value(one.key, zone)) for one in colour_demands(asked)]
    for one, value in values:
        if one.shortfall(value) > slack:
            yield f"{one.words}: {value:.3f} of 1"
