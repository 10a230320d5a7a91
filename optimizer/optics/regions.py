"""Where the figures of a map meet the demands, as boxes of tilt, azimuth and offset."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats
from optimizer.optics.look_demands import FigureDemand
from optimizer.optics.look_map import LookMap
from optimizer.order import Range

_FULL_TURN = 360.0
_SLIVER = 0.25  # of a step: how far a box one place thick reaches to either side

Bounds = tuple[tuple[int, int], tuple[int, int], tuple[int, int]]  # first, last index by axis


@dataclass(frozen=True)
class Region:
    """A box of boundary positions; the azimuth may run past 180."""

    tilt_deg: Range
    azimuth_deg: Range
    offset: Range


def meeting_places(found: LookMap, asked: Sequence[FigureDemand], margin: float) -> np.ndarray:
    """Which places (t, a, o) of the map meet every demand with ``margin`` to spare."""
    grids = {
        "face_percent": found.share,
        "balance_of_halves": found.halves,
        "balance_of_ends": found.ends,
        "difference_of_ends": found.ends_apart,
    }
    met = np.ones(found.share.shape, bool)
    for one in asked:
        values = grids[one.key]
        met &= (values >= one.low + margin) & (values <= one.high - margin)
    return met


def regions(
    found: LookMap, met: np.ndarray, near: tuple[float, float, float], count: int
) -> list[Region]:
    """At most ``count`` boxes within ``met``: the first around the place nearest to ``near`` (tilt,
    azimuth, offset), each other around the place deepest within what the boxes so far leave."""
    left, boxes = met.copy(), []
    turns = _turns(found.azimuths)
    for seed in _seeds(found, left, near, turns):
        bounds = _grown(met, seed, turns)
        left[_places(bounds, met.shape[1])] = False
        boxes.append(_region(found, bounds, turns))
        if len(boxes) == count:
            break
    return boxes


def _turns(azimuths: Floats) -> bool:
    """Whether the azimuths go all the way round."""
    if len(azimuths) < 3:
        return False
    step = azimuths[1] - azimuths[0]
    return bool(abs(azimuths[-1] + step - azimuths[0] - _FULL_TURN) < 1e-6)


def _seeds(
    found: LookMap, left: np.ndarray, near: tuple[float, float, float], turns: bool
) -> Iterator[tuple[int, int, int]]:
    """The places to grow boxes from; the caller takes each box out of ``left`` before the next."""
    from scipy.ndimage import distance_transform_cdt

    if left.any():
        tilt, azimuth, offset = near
        away = np.abs(found.azimuths - azimuth)
        away = np.minimum(away, np.abs(_FULL_TURN - away % _FULL_TURN))
        far = (
            (np.abs(found.tilts - tilt) / 90.0)[:, None, None]
            + (away / 180.0)[None, :, None]
            + np.abs(found.offsets - offset)[None, None, :]
        )
        yield _place(np.where(left, -far, -np.inf))
    while left.any():
        padded = np.pad(left, [(1, 1), (0, 0), (1, 1)])
        padded = np.pad(padded, [(0, 0), (1, 1), (0, 0)], mode="wrap" if turns else "constant")
        depth = distance_transform_cdt(padded)[1:-1, 1:-1, 1:-1]
        yield _place(np.where(left, depth, -1))


def _place(worth: np.ndarray) -> tuple[int, int, int]:
    t, a, o = np.unravel_index(int(np.argmax(worth)), worth.shape)
    return int(t), int(a), int(o)


def _grown(met: np.ndarray, seed: tuple[int, int, int], turns: bool) -> Bounds:
    """The box around ``seed``, grown a step to each side in turn while all of it is ``met``."""
    bounds = [[i, i] for i in seed]
    grew = True
    while grew:
        grew = False
        for axis in range(3):
            for end, step in ((0, -1), (1, 1)):
                at = bounds[axis][end] + step
                around = axis == 1 and turns
                low, high = min(bounds[axis][0], at), max(bounds[axis][1], at)
                if not around and not 0 <= at < met.shape[axis]:
                    continue
                if around and high - low >= met.shape[axis]:
                    continue
                tried = [list(each) for each in bounds]
                tried[axis] = [low, high]
                if met[_places(_fixed(tried), met.shape[1])].all():
                    bounds, grew = tried, True
    return _fixed(bounds)


def _fixed(bounds: list[list[int]]) -> Bounds:
    tilt, azimuth, offset = ((low, high) for low, high in bounds)
    return tilt, azimuth, offset


def _places(bounds: Bounds, around: int) -> tuple[np.ndarray, ...]:
    tilt, azimuth, offset = (np.arange(low, high + 1) for low, high in bounds)
    return np.ix_(tilt, azimuth % around, offset)


def _region(found: LookMap, bounds: Bounds, turns: bool) -> Region:
    tilt = _ends(found.tilts, bounds[0])
    offset = _ends(found.offsets, bounds[2])
    low, high = bounds[1]
    if not turns:
        return Region(tilt, _ends(found.azimuths, bounds[1]), offset)
    count, step = len(found.azimuths), float(found.azimuths[1] - found.azimuths[0])
    if high - low + 1 == count:
        return Region(tilt, (-180.0, 180.0), offset)
    start = float(found.azimuths[low % count])
    return Region(tilt, _widened(start, start + (high - low) * step, step), offset)


def _ends(values: Floats, bounds: tuple[int, int]) -> Range:
    step = float(values[1] - values[0]) if len(values) > 1 else 0.0
    return _widened(float(values[bounds[0]]), float(values[bounds[1]]), step)


def _widened(low: float, high: float, step: float) -> Range:
    return (low, high) if high > low else (low - _SLIVER * step, high + _SLIVER * step)
