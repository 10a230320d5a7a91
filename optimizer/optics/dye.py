"""How strongly a stone absorbs each wavelength, from colours as a person can state them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.colours import apart, decoded, lab
from optimizer.mesh import Floats
from optimizer.optics.observer import rgb_weights, wavelengths

_KNOTS_NM = np.linspace(380.0, 780.0, 13)
_SMOOTH = 0.05  # weight of unevenness beside ΔE: far less than an eye can tell
_THICKNESSES_MM, _THICKNESSES = (1e-3, 1e3), 200  # of a stone, from a film to a boulder
_LEAST_MM, _MOST_MM = 1e-6, 1e2  # limits of the absorption per mm in the search


@dataclass(frozen=True)
class Sample:
    """The colour of ``mm`` of the stone before a white ground: sRGB values (3,), 0 to 1."""

    srgb: tuple[float, float, float]
    mm: float


@dataclass(frozen=True, eq=False)  # told apart by identity, to remember tables by
class Dye:
    """Absorption ``per_mm`` (81,) at each of ``observer.wavelengths``, by Beer and Lambert's law
    with the natural logarithm; ``misfit`` is the ΔE of the sample that fits worst."""

    per_mm: Floats
    misfit: float

    def colour(self, mm: float) -> Floats:
        """Linear sRGB (3,) of ``mm`` of the dye before a white ground."""
        return np.asarray(np.exp(-self.per_mm * mm) @ rgb_weights())


CLEAR = Dye(np.zeros(81), 0.0)


def furthest_apart(one: Dye, other: Dye) -> float:
    """The greatest distance of two dyes' colours in linear sRGB, over all thicknesses. No face
    shows more: each place of a face is a mean over thicknesses, weighted by light that adds up to
    that of white paper or less."""
    return max(
        float(np.linalg.norm(one.colour(mm) - other.colour(mm)))
        for mm in np.geomspace(*_THICKNESSES_MM, _THICKNESSES)
    )


def dye_of(samples: Sequence[Sample]) -> Dye:
    """The smoothest absorption that shows the samples' colours at their thickness.

    Many spectra give the same colour. The smoothest is the likeliest, and its colour at another
    thickness is an estimate. Regularised least squares over the logarithm of the absorption at
    evenly spaced knots: the misfit in CIELAB plus the weighted sum of squared second differences.
    """
    from scipy.interpolate import CubicSpline
    from scipy.optimize import least_squares

    wanted = np.array([decoded(np.array(sample.srgb)) for sample in samples])
    mm = np.array([sample.mm for sample in samples])
    if (wanted >= 1.0).all():
        return CLEAR
    spread = CubicSpline(_KNOTS_NM, np.eye(len(_KNOTS_NM)))(wavelengths())

    def colours(logs: Floats) -> Floats:
        per_mm = np.exp(np.clip(spread @ logs, np.log(_LEAST_MM), np.log(_MOST_MM)))
        return np.asarray(np.exp(-mm[:, None] * per_mm) @ rgb_weights())

    def residuals(logs: Floats) -> Floats:
        off = (lab(colours(logs)) - lab(wanted)).ravel()
        return np.concatenate([off, _SMOOTH * np.diff(logs, 2)])

    grey = -np.log(np.clip(wanted.mean(), 1e-3, 0.999)) / mm.mean()
    found = least_squares(residuals, np.full(len(_KNOTS_NM), np.log(grey)), method="lm")
    per_mm = np.exp(np.clip(spread @ found.x, np.log(_LEAST_MM), np.log(_MOST_MM)))
    return Dye(per_mm, float(apart(colours(found.x), wanted).max()))
