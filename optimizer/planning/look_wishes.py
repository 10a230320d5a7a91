"""What else could be had where an order asks for a look, and how it differs from the plan."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from optimizer.offers.placement_cache import PlacedOffer, PlacementCache
from optimizer.offers.wanted_look import LookTarget
from optimizer.optics.figures import LightFigures, ZoneFigures
from optimizer.optics.look_demands import unmet
from optimizer.order import LookDemand, Order
from optimizer.order.demands import MOST_BALANCE

Figures = tuple[LightFigures, ZoneFigures | None]

EVENER = 0.5  # how much of the balance's distance from 1 the "more even" stone must make up
BRIGHTER = 0.02  # more light return than planned: about what an eye can see
LEAST_DIFFERENCE = 0.005  # of a figure: smaller differences are not mentioned


@dataclass(frozen=True)
class LookWish:
    """A variant of the plan's order to search for, with what it asks in words."""

    kind: str  # "heavier" | "brighter" | "more even"
    order: Order
    words: str


@dataclass(frozen=True)
class LookBaseline:
    """The planned stone with its figures, and all placements found on the way to it."""

    planned: PlacedOffer
    figures: Figures
    aim: LookTarget
    cache: PlacementCache

    @staticmethod
    def of(planned: PlacedOffer, aim: LookTarget, cache: PlacementCache) -> "LookBaseline":
        """``aim`` is the plan's own look target."""
        return LookBaseline(planned, aim.figures(planned.placement), aim, cache)

    def best(self, wish: LookWish, searched: PlacedOffer | None) -> PlacedOffer | None:
        """The heaviest stone that meets ``wish``: the one ``searched`` for it, or another from the
        cache. None where there is none. Where the wish is for weight alone, the stone must be
        heavier than the planned one."""
        least = searched.placement.volume_mm3 if searched else 0.0
        if wish.order.look is None:
            least = max(least, self.planned.placement.volume_mm3)
        for one in self.cache.stones():
            if one.placement.volume_mm3 <= least:
                break
            if self._met(wish.order.look, one):
                return one
        return searched if searched and searched.placement.volume_mm3 >= least else None

    def _met(self, look: LookDemand | None, stone: PlacedOffer) -> bool:
        return look is None or not any(unmet(look, *self.aim.figures(stone.placement)))


def look_wishes(order: Order, planned: Figures) -> Iterator[LookWish]:
    """Wishes for the heaviest stone whatever its look, for one that returns more light, and for one
    whose colours are more evenly spread. ``order`` names the look's boundary as its zone."""
    look, (light, zone) = order.look, planned
    assert look is not None
    yield LookWish("heavier", replace(order, look=None), "heavier, whatever it looks")
    if any(name not in order.parameters for name in ("crown", "pavilion")):
        least = 100.0 * (light.light_return + BRIGHTER)
        asked = replace(look, light_return_percent=least)
        words = f"brighter, with a light return of {least:.0f} % or more"
        yield LookWish("brighter", replace(order, look=asked), words)
    if zone is not None and look.of_colour:
        pair, least = _evener(look, zone)
        asked = (
            replace(look, balance_of_ends=least)
            if pair == "ends"
            else replace(look, balance_of_halves=least)
        )
        words = f"more even, with a balance of the {pair} of {least:.2f} or more"
        if least > MOST_BALANCE:
            return
        yield LookWish("more even", replace(order, look=asked), words)


def _evener(look: LookDemand, zone: ZoneFigures) -> tuple[str, float]:
    """Which pair of parts ("ends" | "halves") to make more even, the one that the order asks about
    or else the ends unless they are to differ, and the balance that it must reach."""
    ends = look.balance_of_halves is None and look.difference_of_ends is None
    pair = "ends" if ends else "halves"
    now = float(getattr(zone, f"balance_of_{pair}"))
    return pair, now + EVENER * (1.0 - now)


def differs(
    kinds: Sequence[str], carat: float, figures: Figures, planned_ct: float, planned: Figures,
    look: LookDemand,
) -> str:  # fmt: skip
    """One sentence: the weight, then every figure that differs from the plan's. Of balance and
    difference of the ends it tells the one that ``look`` orders, else the balance."""
    more = carat - planned_ct
    said = [f"{carat:.2f} ct, {abs(more):.2f} ct {'more' if more >= 0.0 else 'less'} than the plan"]
    said += [
        f"{name} {_in_words(now, unit)} instead of {_in_words(then, unit)}"
        for name, now, then, unit in _pairs(figures, planned, look)
        if abs(now - then) > LEAST_DIFFERENCE and _in_words(now, unit) != _in_words(then, unit)
    ]
    if len(said) == 1:
        said.append("it looks the same")
    return f"{' and '.join(kinds).capitalize()}: {'; '.join(said)}."


def _pairs(
    figures: Figures, planned: Figures, look: LookDemand
) -> Iterator[tuple[str, float, float, str]]:
    (light, zone), (light_then, zone_then) = figures, planned
    if zone is not None and zone_then is not None and zone.distinct and zone_then.distinct:
        yield f"{look.colour} on the face", zone.share, zone_then.share, "%"
        if look.difference_of_ends is None:
            yield "balance of the ends", zone.balance_of_ends, zone_then.balance_of_ends, ""
        if look.difference_of_ends is not None:
            now, then = zone.difference_of_ends, zone_then.difference_of_ends
            yield "difference of the ends", now, then, ""
        yield "balance of the halves", zone.balance_of_halves, zone_then.balance_of_halves, ""
    yield "light return", light.light_return, light_then.light_return, "%"
    yield "window", light.window, light_then.window, "%"


def _in_words(value: float, unit: str) -> str:
    return f"{100.0 * value:.0f} %" if unit else f"{value:.2f}"
