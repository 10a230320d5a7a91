"""Colours as screens and eyes have them: sRGB, linear light, CIELAB."""

import numpy as np

from optimizer.mesh import Floats

# XYZ to linear sRGB: IEC 61966-2-1, the standard's own four decimals.
XYZ_TO_RGB = np.array(
    [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]]
)
_TO_XYZ = np.linalg.inv(XYZ_TO_RGB)


def encoded(linear: Floats) -> Floats:
    """Linear sRGB (..., 3), clipped to 0..1, as sRGB values 0..1 (IEC 61966-2-1)."""
    x = np.clip(linear, 0.0, 1.0)
    return np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1.0 / 2.4) - 0.055)


def decoded(srgb: Floats) -> Floats:
    """sRGB values 0..1 (..., 3) as linear sRGB."""
    x = np.asarray(srgb, float)
    return np.where(x <= 0.04045, x / 12.92, ((x + 0.055) / 1.055) ** 2.4)


def lab(linear: Floats) -> Floats:
    """CIELAB (ISO/CIE 11664-4) of linear sRGB (..., 3), against the white (1, 1, 1)."""
    xyz = np.asarray(linear) @ _TO_XYZ.T / (_TO_XYZ @ np.ones(3))
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)], axis=-1)


def apart(one: Floats, two: Floats) -> Floats:
    """ΔE*ab (ISO/CIE 11664-4) between linear sRGB colours (..., 3); an eye tells about 1."""
    return np.asarray(np.linalg.norm(lab(one) - lab(two), axis=-1))


def chroma(linear: Floats) -> float:
    """CIELAB chroma of one linear sRGB colour (3,)."""
    _, a, b = lab(linear)
    return float(np.hypot(a, b))


def as_hex(srgb: Floats) -> str:
    """``#rrggbb`` of one colour (3,) in 0..1."""
    return "#" + bytes(round(255.0 * float(np.clip(part, 0.0, 1.0))) for part in srgb).hex()


def from_hex(text: str) -> Floats:
    """One colour (3,) in 0..1 of ``#rrggbb``."""
    return np.array([int(text[i : i + 2], 16) for i in (1, 3, 5)]) / 255.0
