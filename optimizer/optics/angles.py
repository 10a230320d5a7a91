"""Light return and window of a design over its crown and pavilion angles."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from optimizer.design.model import Body
from optimizer.mesh import Floats
from optimizer.optics.figures import LightFigures, light_figures
from optimizer.optics.look import UPRIGHT, CutStone, Turn
from optimizer.optics.ray_samples import ray_face
from optimizer.running.workers import workers
from optimizer.trade.materials import Material

ROCKED = (UPRIGHT, (10.0, 0.0), (-10.0, 0.0), (0.0, 10.0), (0.0, -10.0))
PLACES = 2000  # per face; light return and window are then within 0.01 of their limits

Built = Callable[[float, float], Body | None]  # of crown and pavilion; None where a facet is lost


@dataclass(frozen=True)
class ClearLight:
    """Light return and window of a clear stone face up, each 0 to 1."""

    light_return: float
    window: float


@dataclass(frozen=True)
class AngleLight:
    """Figures (c, p) over ``crowns`` (c,) and ``pavilions`` (p,) in degrees; nan where no body is.

    light_return  mean over the turns
    window        the greatest over the turns
    volume        of a stone 1 mm wide, mm³
    """

    crowns: Floats
    pavilions: Floats
    light_return: Floats
    window: Floats
    volume: Floats


def light_by_turn(
    body: Body, width: float, material: Material, turns: Sequence[Turn], places: int = PLACES
) -> list[LightFigures]:
    """The figures at each turn. Raises InputError where no refractive index is listed."""
    return [
        light_figures(ray_face(CutStone(body, width, material), turn=turn, places=places))
        for turn in turns
    ]


def light_over(
    built: Built, width: float, material: Material, crowns: Floats, pavilions: Floats,
    turns: Sequence[Turn] = (UPRIGHT,), places: int = PLACES,
) -> AngleLight:  # fmt: skip
    """The figures of a stone of ``width`` mm at every pair of angles."""
    pairs = [(float(crown), float(pavilion)) for crown in crowns for pavilion in pavilions]
    figures = light_at(built, width, material, pairs, turns, places)
    figures = figures.reshape(len(crowns), len(pavilions), 3)
    return AngleLight(crowns, pavilions, *np.moveaxis(figures, -1, 0))


def light_at(
    built: Built, width: float, material: Material, pairs: Sequence[tuple[float, float]],
    turns: Sequence[Turn], places: int,
) -> Floats:  # fmt: skip
    """Light return, window and volume, as in AngleLight, at pairs of crown and pavilion angle:
    (n, 3)."""
    figures_of = partial(_figures, built, width, material, tuple(turns), places)
    with workers() as pool:
        return np.array(list(pool.map(figures_of, pairs))).reshape(-1, 3)


def _figures(
    built: Built, width: float, material: Material, turns: tuple[Turn, ...],
    places: int, pair: tuple[float, float],
) -> tuple[float, float, float]:  # fmt: skip
    body = built(*pair)
    if body is None:
        return np.nan, np.nan, np.nan
    by_turn = light_by_turn(body, width, material, turns, places)
    mean = float(np.mean([light.light_return for light in by_turn]))
    return mean, max(light.window for light in by_turn), body.unit_volume


def largest_rectangle(
    met: np.ndarray, holding: tuple[int, int] | None = None
) -> tuple[slice, slice] | None:
    """The rows and columns of the largest rectangle of ``met`` (r, c) that is true all over and
    includes the place ``holding``, the first of equal ones; None where there is none."""
    sums = np.pad(met.astype(int).cumsum(0).cumsum(1), ((1, 0), (1, 0)))
    best, found = 0, None
    rows, columns = met.shape
    for top in range(rows):
        for bottom in range(top + 1, rows + 1):
            for left in range(columns):
                for right in range(left + 1, columns + 1):
                    if holding is not None and not (
                        top <= holding[0] < bottom and left <= holding[1] < right
                    ):
                        continue
                    size = (bottom - top) * (right - left)
                    true = (
                        sums[bottom, right] - sums[top, right]
                        - sums[bottom, left] + sums[top, left]
                    )  # fmt: skip
                    if size > best and true == size:
                        best, found = size, (slice(top, bottom), slice(left, right))
    return found
