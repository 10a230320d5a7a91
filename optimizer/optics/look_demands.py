"""Whether a look meets what an order asks of it."""

from collections.abc import Iterator
from dataclasses import dataclass

from optimizer.optics.figures import LightFigures, ZoneFigures
from optimizer.order import LookDemand
from optimizer.wording.plain_number import plain

INDISTINCT = "the face does not tell the two colours apart"


@dataclass(frozen=True)
class FigureDemand:
    """One demand on the look: a figure between two ends, all from 0 to 1."""

    key: str  # of the order's [look]
    words: str
    low: float
    high: float

    def shortfall(self, value: float) -> float:
        """How far ``value`` lies outside; negative: how far within."""
        return max(self.low - value, value - self.high)


def colour_demands(asked: LookDemand) -> tuple[FigureDemand, ...]:
    """The demands that hang on where the boundary runs."""
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
    return tuple(found)


def light_demands(asked: LookDemand) -> tuple[FigureDemand, ...]:
    """The demands that the design and its angles settle."""
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
    """All or nothing is no narrower for a margin."""
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
    """Each demand that the figures miss by more than ``slack``, with what was measured."""
    told = [(one, light_value(one.key, light)) for one in light_demands(asked)]
    if zone is not None and not zone.distinct:
        yield from (f"{one.words}: {INDISTINCT}" for one in colour_demands(asked))
    elif zone is not None:
        told += [(one, zone_value(one.key, zone)) for one in colour_demands(asked)]
    for one, value in told:
        if one.shortfall(value) > slack:
            yield f"{one.words}: {value:.3f} of 1"
