"""Main angles that are free by default, limited to those that cost the look little: the light
return falls, and the window grows, by no more than the order allows beside the usual angles."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from optimizer.design.family import Family
from optimizer.design.model import Body
from optimizer.mesh import Floats
from optimizer.offers.freedom import MAINS
from optimizer.offers.light_grid import angles_to_try, body_of, narrowed
from optimizer.offers.offer import Offer
from optimizer.optics.angles import ClearLight, largest_rectangle, light_at, light_by_turn
from optimizer.optics.look import UPRIGHT
from optimizer.order import Order
from optimizer.trade.materials import Material

WIDTH_MM = 8.0  # figures of light hardly change with the size
PLACES = 1200  # per face: figures within about 0.01, in less than 0.1 s of processor time a body
ANY_PERCENT = 100.0  # the order takes any light


def with_usual_light(offer: Offer, order: Order, material: Material) -> Offer:
    """The offer with the main angles of which the order says nothing limited, and the light of the
    usual angles noted. Every range keeps the usual angle, or the nearest to it in the range."""
    family = None if offer.freedom is None else offer.freedom.family
    mains = [] if family is None else [one for one in family.free if one.name in MAINS]
    limited = [one.name for one in mains if one.name not in order.parameters]
    if family is None or not limited:
        return offer
    anything = order.light_loss_percent >= ANY_PERCENT
    setting = _Setting.of(family, () if anything else limited, material)
    light, found = _limits(setting, order.light_loss_percent / 100.0)
    offer = replace(offer, usual_light=light)
    return offer if anything else narrowed(offer, family, setting.axes, found, limited)


def clear_light(body: Body, material: Material) -> ClearLight:
    """The light of a body as it was traced to limit angles, to be told beside the usual light."""
    (light,) = light_by_turn(body, WIDTH_MM, material, (UPRIGHT,), PLACES)
    return ClearLight(light.light_return, light.window)


@dataclass(frozen=True)
class _Setting:
    """A family and the mains tried, by all that their light depends on."""

    text: str
    family: Family = field(compare=False)
    axes: tuple[Floats, Floats] = field(compare=False)
    material: Material = field(compare=False)

    @property
    def usual(self) -> tuple[int, int]:
        """The numbers of the usual crown and pavilion, or of the nearest, among those tried."""
        start = self.family.parameters(self.family.usual)
        row, column = (
            int(np.argmin(np.abs(axis - start[name]))) if name in start else 0
            for name, axis in zip(MAINS, self.axes, strict=True)
        )
        return row, column

    @staticmethod
    def of(family: Family, limited: Sequence[str], material: Material) -> "_Setting":
        """Each limited main over its range, its usual angle among those tried; others fixed."""
        start = family.parameters(family.usual)
        crowns, pavilions = (
            _with(angles_to_try(family, name, start.get(name, 0.0)), start[name])
            if name in limited
            else np.array([start.get(name, 0.0)])
            for name in MAINS
        )
        known = (family.design, start, family.least_girdle_mm, family.least_girdle_share)
        text = repr((*known, crowns.tolist(), pavilions.tolist(), material))
        return _Setting(text, family, (crowns, pavilions), material)


def _with(angles: Floats, usual: float) -> Floats:
    """The angles, with the usual one among them."""
    return angles if np.abs(angles - usual).min() < 1e-9 else np.sort(np.append(angles, usual))


@lru_cache(maxsize=64)  # designs and species of one run: tracing takes a second for each
def _limits(setting: _Setting, loss: float) -> tuple[ClearLight, tuple[slice, slice]]:
    """The light at the usual angles, and the largest rectangle about them of angles tried that
    lose no more.

    First the angles that differ from the usual ones in one alone: no rectangle about the usual
    angles reaches farther than these, so only the angles among them are traced besides.
    """
    row, column = setting.usual
    known: dict[tuple[int, int], Floats] = {}

    def met(i: int, j: int) -> bool:
        if (i, j) == (row, column):
            return True
        light, window, _ = known[i, j]
        usual, opened, _ = known[row, column]
        return bool(light >= usual - loss and window <= opened + loss)

    shape = tuple(len(axis) for axis in setting.axes)
    across = [(row, k) for k in range(shape[1])]
    along = [(k, column) for k in range(shape[0]) if k != row]
    _trace(setting, [*across, *along], known)
    rows = _reach([met(k, column) for k in range(shape[0])], row)
    columns = _reach([met(row, k) for k in range(shape[1])], column)
    _trace(setting, [(i, j) for i in rows for j in columns], known)
    kept = np.array([[met(i, j) for j in columns] for i in rows])
    found = largest_rectangle(kept, holding=(row - rows.start, column - columns.start))
    assert found is not None
    usual = known[row, column]
    first, second = (
        slice(part.start + reach.start, part.stop + reach.start)
        for part, reach in zip(found, (rows, columns), strict=True)
    )
    return ClearLight(float(usual[0]), float(usual[1])), (first, second)


def _reach(met: Sequence[bool], at: int) -> range:
    """The run of true values about the place ``at``."""
    first = next((k + 1 for k in range(at - 1, -1, -1) if not met[k]), 0)
    return range(first, next((k for k in range(at + 1, len(met)) if not met[k]), len(met)))


def _trace(
    setting: _Setting, places: Sequence[tuple[int, int]], known: dict[tuple[int, int], Floats]
) -> None:
    """Add the figures at the numbers of a crown and a pavilion, where they are not known yet."""
    crowns, pavilions = setting.axes
    new = [at for at in places if at not in known]
    pairs = [(float(crowns[i]), float(pavilions[j])) for i, j in new]
    built = body_of(setting.family)
    figures = light_at(built, WIDTH_MM, setting.material, pairs, (UPRIGHT,), PLACES)
    known.update(zip(new, figures, strict=True))
