"""Which crown and pavilion angles return most light, and what they cost in weight."""

from dataclasses import dataclass

import numpy as np

from optimizer.design.family import Family, step_of
from optimizer.design.model import Body, Design
from optimizer.errors import InputError
from optimizer.mesh import Floats
from optimizer.offers.freedom import MAINS, fixed_parameters, free_parameters
from optimizer.optics.angles import ROCKED, AngleLight, light_over
from optimizer.order import Order
from optimizer.trade.materials import Material
from optimizer.wording.plain_number import plain

WIDTH_MM = 8.0  # the figures hardly change with the size
CROWNS, PAVILIONS = 5, 9  # angles looked at over the design's range
FINER = 3  # either side of the best, in steps that halve the grid's, and once more
NO_WINDOW = 0.02  # of the face, at the worst turn: what an eye passes over; a choice of our own
CLEAR = 0.005  # less light than this is no gain, as the sampling goes


@dataclass(frozen=True)
class AngleSetting:
    """Angles in degrees and what a stone of them shows, upright and rocked by 10 degrees: the mean
    light return, the worst window, each 0 to 1, and its volume at one width, mm³."""

    crown: float
    pavilion: float
    light_return: float
    window: float
    volume: float


@dataclass(frozen=True)
class AngleAdvice:
    """The usual setting, or the one ordered, and the best inside the design's range."""

    usual: AngleSetting
    best: AngleSetting

    @property
    def worth_it(self) -> bool:
        """Whether the best is truly better."""
        gain = self.best.light_return - self.usual.light_return
        opened = self.usual.window > NO_WINDOW >= self.best.window
        return gain > CLEAR or opened


def angle_advice(design: Design, material: Material, order: Order | None = None) -> AngleAdvice:
    """Over the design's whole range: a grid, then finer ones about the best. What ``order`` says of
    parameters and girdle is the usual setting.

    The best returns most light of those without a window, or of those with the least. Raises
    InputError where no refractive index is listed, or the design has not both mains.
    """
    if any(name not in design.parameters for name in MAINS):
        raise InputError(f"{design.name} has no crown and pavilion angle to advise on")
    order = order or Order()
    free = free_parameters(design, order, material)
    usual = Family(
        design, fixed_parameters(design, order, free, material), free,
        order.least_girdle_mm, order.least_girdle_percent / 100.0,
    )  # fmt: skip
    start = usual.parameters(usual.usual)
    at = tuple(_stepped(design, name, np.array([start[name]])) for name in MAINS)
    first = _best(_looked(usual, material, *at))
    axes = [
        np.linspace(design.parameters[name].low, design.parameters[name].high, count)
        for name, count in zip(MAINS, (CROWNS, PAVILIONS), strict=True)
    ]
    steps = [float(axis[1] - axis[0]) for axis in axes]
    best = _better(first, _best(_looked(usual, material, *_all(design, axes))))
    for _ in range(2):
        steps = [step / 2.0 for step in steps]
        about = [
            np.linspace(middle - step, middle + step, FINER)
            for middle, step in zip((best.crown, best.pavilion), steps, strict=True)
        ]
        best = _better(best, _best(_looked(usual, material, *_all(design, about))))
    return AngleAdvice(first, best)


def advice_line(advice: AngleAdvice, material: Material) -> str:
    """The advice in plain words."""
    usual, best = advice.usual, advice.best
    here = (
        f"In {material.name}, crown {plain(usual.crown)}° and pavilion {plain(usual.pavilion)}° "
        f"return {100 * usual.light_return:.0f} % of an open sky's light, with a window of "
        f"{100 * usual.window:.0f} % of the face, upright and rocked by 10°"
    )
    if not advice.worth_it:
        return f"{here}; no angles in the design's range do clearly better."
    lighter = 100.0 * (best.volume / usual.volume - 1.0)
    gain = 100.0 * (best.light_return - usual.light_return)
    said = (
        f"{here}. Crown {plain(best.crown)}° and pavilion {plain(best.pavilion)}° return "
        f"{100 * best.light_return:.0f} %, window {100 * best.window:.0f} %: {gain:+.0f} % light, "
        f"{lighter:+.1f} % weight at the same outline."
    )
    if best.window > NO_WINDOW:
        said += " No angles in the design's range shut the window at every turn."
    return said.replace(" -", " \N{MINUS SIGN}")


def _all(design: Design, axes: list[Floats]) -> tuple[Floats, Floats]:
    crowns, pavilions = (
        _stepped(design, name, axis) for name, axis in zip(MAINS, axes, strict=True)
    )
    return crowns, pavilions


def _stepped(design: Design, name: str, values: Floats) -> Floats:
    """Whole steps of what the cutter sets, inside the design's range."""
    known, step = design.parameters[name], step_of(design, name)
    whole = np.round(np.round(values / step) * step, 9)
    return np.unique(np.clip(whole, known.low, known.high))


def _looked(family: Family, material: Material, crowns: Floats, pavilions: Floats) -> AngleLight:
    def body(crown: float, pavilion: float) -> Body | None:
        chosen = {**family.fixed, "crown": crown, "pavilion": pavilion}
        try:
            made = Family(
                family.design, chosen, (), family.least_girdle_mm, family.least_girdle_share
            )
            return made.exact(np.empty(0))
        except InputError:
            return None

    return light_over(body, WIDTH_MM, material, crowns, pavilions, ROCKED)


def _best(seen: AngleLight) -> AngleSetting:
    open_ = np.where(np.isfinite(seen.window), seen.window, np.inf)
    shut = open_ <= max(NO_WINDOW, float(open_.min()))
    worth = np.where(shut, np.nan_to_num(seen.light_return, nan=-1.0), -1.0)
    i, j = np.unravel_index(int(np.argmax(worth)), worth.shape)
    return AngleSetting(
        float(seen.crowns[i]), float(seen.pavilions[j]),
        float(seen.light_return[i, j]), float(seen.window[i, j]), float(seen.volume[i, j]),
    )  # fmt: skip


def _better(one: AngleSetting, other: AngleSetting) -> AngleSetting:
    """The one without a window, or the less, then the brighter; the first of equals."""
    shut = [max(each.window, NO_WINDOW) for each in (one, other)]
    if shut[0] != shut[1]:
        return one if shut[0] < shut[1] else other
    return other if other.light_return > one.light_return else one
