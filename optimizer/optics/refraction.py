"""Snell and Fresnel at one flat surface, and a species' refractive index by wavelength."""

import math

from optimizer.optics.ray_kernels import reflectance


def critical_angle(index: float) -> float:
    """Radians from the normal beyond which all light inside is mirrored (Snell's law)."""
    return math.asin(1.0 / index)


def brewster_angle(index: float) -> float:
    """Radians from the normal at which light mirrored outside is wholly polarised."""
    return math.atan(index)


def mirrored_share(index: float, angle: float) -> float:
    """Of unpolarised light that meets the surface from outside, ``angle`` radians from the normal
    (Fresnel's equations)."""
    return float(reflectance(math.cos(angle), 1.0, index)[0])
