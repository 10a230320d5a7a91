"""From spectra to colours: the CIE 1931 standard observer in daylight (D65)."""

from functools import cache
from pathlib import Path

import numpy as np

from optimizer.colours import XYZ_TO_RGB
from optimizer.mesh import Floats


@cache
def _table() -> Floats:
    return np.loadtxt(Path(__file__).with_name("observer.csv"), delimiter=",", comments="#")


def wavelengths() -> Floats:
    """(81,) nm, 380 to 780 by 5."""
    return np.asarray(_table()[:, 0])


@cache
def rgb_weights() -> Floats:
    """(81, 3): linear sRGB of a spectrum of transmittance T (81,) held before a white ground in
    daylight is T @ rgb_weights(). Scaled so that T = 1 gives (1, 1, 1); negative in part."""
    table = _table()
    rgb = (table[:, 1:4] * table[:, 4:5]) @ XYZ_TO_RGB.T
    return np.asarray(rgb / rgb.sum(axis=0))
