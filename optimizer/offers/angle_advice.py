"""The crown and pavilion angles that return the most light, and what they cost in weight."""

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
from optimizer.wording.minus import with_minus
from optimizer.wording.plain_number import plain

WIDTH_MM = 8.0  # the figures hardly change with the size
CROWNS, PAVILIONS = 5, 9  # angles tried over the design's range
FINER = 3  # angles of each finer grid about the best; its step is half the step before
NO_WINDOW = 0.02  # of the face, at the worst tilt: an eye passes over less; our own choice
CLEAR = 0.005  # a smaller gain of light may be an error of the sampling


@dataclass(frozen=True)
class AngleSetting:
    """Crown and pavilion angles in degrees, with figures of such a stone upright and rocked by 10
    degrees: its mean light return and worst window, each 0 to 1, and its volume at one width,
    mm³."""

    crown: float
    pavilion: float
    light_return: float
    window: float
    volume: float


@dataclass(frozen=True)
class AngleAdvice:
    """The usual angles, or those ordered, and the best angles inside the design's range."""

    usual: AngleSetting
    best: AngleSetting

    @property
    def worth_it(self) -> bool:
        """Whether the best angles are clearly better."""
        gain = self.best.light_return - self.usual.light_return
        opened = self.usual.window > NO_WINDOW >= self.best.window
        return gain > CLEAR or opened


def angle_advice(design: Design, material: Material, order: Order | None = None) -> AngleAdvice:
    """The advice over the design's whole range, by a grid and then finer grids about the best.
    What ``order`` says of parameters and girdle counts as the usual setting.

    The best setting returns the most light of those without a window, or of those with the least
    window. Raises InputError where no refractive index is listed, or the design lacks a crown or
    pavilion angle.
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
    first = _best(_light_at(usual, material, *at))
    axes = [
        np.linspace(design.parameters[name].low, design.parameters[name].high, count)
        for name, count in zip(MAINS, (CROWNS, PAVILIONS), strict=True)
    ]
    steps = [float(axis[1] - axis[0]) for axis in axes]
    best = _better(first, _best(_light_at(usual, material, *_grid(design, axes))))
    for _ in range(2):
        steps = [step / 2.0 for step in steps]
        about = [
            np.linspace(middle - step, middle + step, FINER)
            for middle, step in zip((best.crown, best.pavilion), steps, strict=True)
        ]
        best = _better(best, _best(_light_at(usual, material, *_grid(design, about))))
    return AngleAdvice(first, best)


def advice_line(advice: AngleAdvice, material: Material) -> str:
    """The advice in one line for the cutter."""
    usual, best = advice.usual, advice.best
    here = (
        f"In {material.name}, crown {plain(usual.crown)}° and pavilion {plain(usual.pavilion)}° "
        f"return {100 * usual.light_return:.0f} % of an open sky's light, with a window of "
        f"{100 * usual.window:.0f} % of the face, upright and rocked by 10°"
    )
    if not advice.worth_it:
        return f"{here}; no angles in the design's range do clearly better."
    light = f"{100.0 * (best.light_return - usual.light_return):+.0f}"
    weight = f"{100.0 * (best.volume / usual.volume - 1.0):+.1f}"
    said = (
        f"{here}. Crown {plain(best.crown)}° and pavilion {plain(best.pavilion)}° return "
        f"{100 * best.light_return:.0f} %, window {100 * best.window:.0f} %: {with_minus(light)} % "
        f"light, {with_minus(weight)} % weight at the same outline."
    )
    if best.window > NO_WINDOW:
        said += " No angles in the design's range close the window at every tilt."
    return said


def _grid(design: Design, axes: list[Floats]) -> tuple[Floats, Floats]:
    crowns, pavilions = (
        _stepped(design, name, axis) for name, axis in zip(MAINS, axes, strict=True)
    )
    return crowns, pavilions


def _stepped(design: Design, name: str, values: Floats) -> Floats:
    """The values in whole steps that a cutter can set, inside the design's range."""
    known, step = design.parameters[name], step_of(design, name)
    whole = np.round(np.round(values / step) * step, 9)
    return np.unique(np.clip(whole, known.low, known.high))


def _light_at(family: Family, material: Material, crowns: Floats, pavilions: Floats) -> AngleLight:
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


def _best(light: AngleLight) -> AngleSetting:
    windows = np.where(np.isfinite(light.window), light.window, np.inf)
    small = windows <= max(NO_WINDOW, float(windows.min()))
    merit = np.where(small, np.nan_to_num(light.light_return, nan=-1.0), -1.0)
    i, j = np.unravel_index(int(np.argmax(merit)), merit.shape)
    return AngleSetting(
        float(light.crowns[i]), float(light.pavilions[j]),
        float(light.light_return[i, j]), float(light.window[i, j]), float(light.volume[i, j]),
    )  # fmt: skip


def _better(one: AngleSetting, other: AngleSetting) -> AngleSetting:
    """The setting with the smaller window; where neither has one, the brighter; the first of
    equals."""
    windows = [max(setting.window, NO_WINDOW) for setting in (one, other)]
    if windows[0] != windows[1]:
        return one if windows[0] < windows[1] else other
    return other if other.light_return > one.light_return else one
