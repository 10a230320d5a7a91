"""What a face shows near one position of a flat boundary, as cubics for the search to climb on."""

from itertools import product

import numpy as np

from optimizer.mesh import Floats
from optimizer.optics.figures import ZoneFigures
from optimizer.optics.look_demands import FigureDemand
from optimizer.optics.plane_shares import PlaneShares
from optimizer.placement.shown import BALANCE, FACE, POWERS, Cubics, LookBound
from optimizer.wording.plain_number import plain

LEANS, OFFSETS = 5, 9  # fitted places along each tilt of the boundary and along its offset
LEAN, OFFSET = 0.15, 0.2  # how far the cubics reach: about 9°, a fifth of half the stone
SHARE_STEP, BALANCE_STEP = 0.01, 0.05  # how much less a bound asks when relaxed by one step

_SHARE = np.array([1.0, 0.0, 0.0, 0.0, 0.0])
_PAIRS = {"balance_of_halves": (1, 2), "balance_of_ends": (3, 4)}  # figures of each pair


def cubics_near(
    shares: PlaneShares, corners: Floats, normal: Floats, level: float, here: ZoneFigures
) -> Cubics:
    """Cubics of the share, of both halves and of both ends around the boundary ``normal`` (3,)·x =
    ``level`` in the frame of the stone with these ``corners`` (k, 3); ``here`` are the figures at
    the boundary itself."""
    across = np.linalg.svd(normal[None])[2][1:]
    offset = _offset(corners, normal, level)
    leans, shifts = np.linspace(-LEAN, LEAN, LEANS), np.linspace(-OFFSET, OFFSET, OFFSETS)
    places, figures = [], []
    for lean in product(leans, leans):
        way = across.T @ np.array(lean) + np.sqrt(1.0 - np.square(lean).sum()) * normal
        reach = corners @ way
        mid, half = (reach.max() + reach.min()) / 2.0, float(np.ptp(reach)) / 2.0
        found = shares.figures(way, mid + (offset + shifts) * half)
        places += [(*lean, shift) for shift in shifts]
        figures += [_values(one) for one in found]
    terms = np.prod(np.array(places)[:, None] ** POWERS, axis=2)
    middle = np.array(_values(shares.figures(normal, np.array([level]))[0]))
    fitted = np.linalg.lstsq(terms[:, 1:], np.array(figures) - middle, rcond=None)[0]
    factors = np.vstack([_values(here), fitted])
    return Cubics(normal, across, offset, np.array([LEAN, LEAN, OFFSET]), factors)


def _values(zone: ZoneFigures) -> list[float]:
    return [zone.share, *zone.halves, *zone.ends]


def _offset(corners: Floats, normal: Floats, level: float) -> float:
    reach = corners @ normal
    return float((2.0 * level - reach.max() - reach.min()) / np.ptp(reach))


def bounds_of(
    asked: tuple[FigureDemand, ...], colour: str, margin: float, ends: tuple[float, float]
) -> tuple[LookBound, ...]:
    """The demands as bounds on these figures, each with ``margin`` to spare. A balance becomes two
    bounds: each of a pair must be at least that share of the other. Of ends that must differ, the
    one that shows more of the colour now (``ends``) goes on to show more."""
    found: list[LookBound] = []
    for one in asked:
        if one.key == "difference_of_ends":
            found.append(_difference(f"the look: {one.words}", one.low + margin, ends))
            continue
        if one.key in _PAIRS:
            first, second = _PAIRS[one.key]
            words = f"the look: {one.words}"
            found.append(_balance(words, first, second, one.low, margin))
            found.append(_balance(words, second, first, one.low, margin))
            continue
        for sign, end, how in ((1.0, one.low, "at least"), (-1.0, -one.high, "at most")):
            if abs(end) <= 1.0:
                words = f"the look: {how} {plain(100.0 * abs(end))} % of the face {colour}"
                least, weights = end + margin, sign * _SHARE
                found.append(
                    LookBound(words, weights, least, weights, least - SHARE_STEP, 1.0, FACE)
                )
    return tuple(found)


def _difference(words: str, least: float, ends: tuple[float, float]) -> LookBound:
    first, second = _PAIRS["balance_of_ends"]
    sign = 1.0 if ends[0] >= ends[1] else -1.0
    weights = sign * (np.eye(5)[first] - np.eye(5)[second])
    return LookBound(words, weights, least, weights, least - SHARE_STEP, 1.0, FACE)


def _balance(words: str, lesser: int, greater: int, least: float, margin: float) -> LookBound:
    def weights(balance: float) -> Floats:
        found: Floats = np.eye(5)[lesser] - balance * np.eye(5)[greater]
        return found

    loose = weights(max(0.0, least - BALANCE_STEP))
    return LookBound(words, weights(least + margin), 0.0, loose, 0.0, BALANCE_STEP, BALANCE)
