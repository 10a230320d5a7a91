"""The colour of light that has come through two dyes, as a table to look up."""

from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np

from optimizer.mesh import Floats
from optimizer.optics.dye import Dye
from optimizer.optics.observer import rgb_weights, wavelengths

_STEPS = 240  # entries a side: between them straight lines are within 0.0002 or so of the truth
_DARK = 1e-4  # share of light: where no more is left, the table may end


@dataclass(frozen=True, eq=False)  # told apart by identity, to remember tables by
class Band:
    """A part of the spectrum that is traced with one refractive index: ``part`` (81,) says which of
    ``observer.wavelengths`` belong to it, ``nm`` is the wavelength of that index."""

    part: np.ndarray
    nm: float


@cache
def bands(count: int) -> tuple[Band, ...]:
    """The spectrum in ``count`` bands of about the same weight to the eye."""
    seen = np.abs(rgb_weights()).sum(axis=1)
    share = np.cumsum(seen) / seen.sum()
    which = np.minimum((share * count).astype(int), count - 1)
    parts = [which == k for k in range(count)]
    return tuple(
        Band(part, float(np.average(wavelengths(), weights=seen * part))) for part in parts
    )


@dataclass(frozen=True)
class ShadingTable:
    """``values`` (a, b, 3): linear sRGB after i²/``per_mm`` mm of one dye and j²/``per_mm`` mm of
    another. Entries are dense for short paths, where the colour changes fastest."""

    values: Floats
    per_mm: float


def table_of(inside: Dye, outside: Dye, longest_mm: float, band: Band) -> ShadingTable:
    """The table of one band for paths of up to ``longest_mm``. The table reaches to the next power
    of two, so that all parts of a picture share one table."""
    return _table_to(inside, outside, 2.0 ** np.ceil(np.log2(max(longest_mm, 1e-9))), band)


@lru_cache(maxsize=32)
def _table_to(inside: Dye, outside: Dye, far_mm: float, band: Band) -> ShadingTable:
    weights = rgb_weights()[band.part]
    least = min(inside.per_mm[band.part].min(), outside.per_mm[band.part].min())
    reach = min(far_mm, -np.log(_DARK) / least if least > 0.0 else np.inf)
    per_mm = (_STEPS - 1) ** 2 / reach
    run = np.arange(_STEPS)[:, None] ** 2 / per_mm
    through = [np.exp(-run * dye.per_mm[band.part]) for dye in (inside, outside)]
    values = np.stack([(through[0] * weights[:, k]) @ through[1].T for k in range(3)], axis=-1)
    return ShadingTable(np.ascontiguousarray(values), per_mm)
