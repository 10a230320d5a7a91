"""Part of ``plan``: what else could be had where an order asks for a look, and what differs."""

from collections.abc import Iterator
from dataclasses import replace

from optimizer.optics.figures import LightFigures, ZoneFigures
from optimizer.order import LookDemand, Order

Figures = tuple[LightFigures, ZoneFigures | None]

EVENER = 0.5  # of what the balance lacks of 1, made up
BRIGHTER = 0.02  # more light return than planned: an eye tells about that much
TELLS = 0.005  # of a figure: a smaller difference is not told


def wishes(order: Order, planned: Figures) -> Iterator[tuple[str, Order]]:
    """What to look for instead, as a name and an order: the heaviest stone whatever it looks, one
    whose colours are more evenly spread, and one that returns more light."""
    look, (light, zone) = order.look, planned
    assert look is not None
    yield "heavier", replace(order, look=None)
    if zone is not None and look.of_colour:
        yield "more even", replace(order, look=_evener(look, zone))
    if any(name not in order.parameters for name in ("crown", "pavilion")):
        least = 100.0 * (light.light_return + BRIGHTER)
        yield "brighter", replace(order, look=replace(look, light_return_percent=least))


def _evener(look: LookDemand, zone: ZoneFigures) -> LookDemand:
    """The pair that the order asks about, or else the ends, nearer to alike than planned."""
    key = "balance_of_ends" if look.balance_of_halves is None else "balance_of_halves"
    now = float(getattr(zone, key))
    least = now + EVENER * (1.0 - now)
    return replace(look, balance_of_ends=least) if key == "balance_of_ends" else replace(
        look, balance_of_halves=least
    )  # fmt: skip


def differs(kind: str, carat: float, figures: Figures, planned_ct: float, planned: Figures) -> str:
    """One sentence: the weight, then every figure that is not the plan's."""
    more = carat - planned_ct
    said = [f"{carat:.2f} ct, {abs(more):.2f} ct {'more' if more >= 0.0 else 'less'} than the plan"]
    said += [
        f"{name} {_told(now, unit)} instead of {_told(then, unit)}"
        for name, now, then, unit in _pairs(figures, planned)
        if abs(now - then) > TELLS
    ]
    return f"{kind.capitalize()}: {'; '.join(said)}."


def _pairs(figures: Figures, planned: Figures) -> Iterator[tuple[str, float, float, str]]:
    (light, zone), (light_then, zone_then) = figures, planned
    if zone is not None and zone_then is not None:
        yield "colour on the face", zone.share, zone_then.share, "%"
        yield "balance of the ends", zone.balance_of_ends, zone_then.balance_of_ends, ""
        yield "balance of the halves", zone.balance_of_halves, zone_then.balance_of_halves, ""
    yield "light return", light.light_return, light_then.light_return, "%"
    yield "window", light.window, light_then.window, "%"


def _told(value: float, unit: str) -> str:
    return f"{100.0 * value:.0f} %" if unit else f"{value:.2f}"
