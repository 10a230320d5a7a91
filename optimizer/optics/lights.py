"""Lightings: how bright it is around the stone, by direction.

Frame of the room: +z up, +x to the viewer's right, +y away from the viewer, the stone at the
origin. Each lighting is scaled so that a sheet of matt white paper lying flat shows 1. No light
comes from below the horizon. The clouded sky is an international standard; the other lightings are
models of our own.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from optimizer.errors import InputError, nearest
from optimizer.mesh import Floats

HEAD_DEG = 15.0  # half the angle of a head at about 40 cm (common practice, no source)


@dataclass(frozen=True)
class Light:
    """A lighting: ``radiance`` maps unit directions (..., 3) in the room's frame to (...)."""

    name: str
    summary: str
    radiance: Callable[[Floats], Floats]


def _above(ways: Floats) -> Floats:
    return np.where(ways[..., 2] > 0.0, 1.0, 0.0)


def _clouded(ways: Floats) -> Floats:
    # ISO 15469:2004 (CIE S 011), the standard overcast sky: three times as bright at the zenith as
    # at the horizon; 9/7 makes the paper's sum 1.
    return np.asarray(_above(ways) * (9.0 / 7.0) * (1.0 + 2.0 * ways[..., 2]) / 3.0)


def _disc(towards: tuple[float, float, float], half_deg: float) -> Callable[[Floats], Floats]:
    """A radiance of 1 within ``half_deg`` of a direction, 0 elsewhere."""
    middle = np.array(towards) / np.linalg.norm(towards)
    edge = np.cos(np.radians(half_deg))
    return lambda ways: np.where(ways @ middle >= edge, 1.0, 0.0)


_LAMP, _LAMP_HALF_DEG, _ROOM = (0.0, 0.5, 1.0), 8.0, 0.25


def _lamp(ways: Floats) -> Floats:
    # A disc of half angle a, its middle z high, brings z·sin²a to the paper.
    height = _LAMP[2] / np.linalg.norm(_LAMP)
    disc = (1.0 - _ROOM) / (height * np.sin(np.radians(_LAMP_HALF_DEG)) ** 2)
    return np.asarray(_ROOM * _above(ways) + disc * _disc(_LAMP, _LAMP_HALF_DEG)(ways))


_PANE_SIDE_DEG, _PANE_LOW_DEG, _PANE_HIGH_DEG = 45.0, 10.0, 60.0


def _window(ways: Floats) -> Floats:
    # A pane to the left from 10 to 60 degrees up, 90 degrees wide; the room itself at a quarter.
    low, high = np.sin(np.radians([_PANE_LOW_DEG, _PANE_HIGH_DEG]))
    side = np.arctan2(np.abs(ways[..., 1]), -ways[..., 0]) <= np.radians(_PANE_SIDE_DEG)
    pane = side & (ways[..., 2] >= low) & (ways[..., 2] <= high)
    # The pane brings the paper ∫∫ sin·cos dγ dφ / π = 2·45°·(sin²60° − sin²10°) / 2π.
    share = np.radians(_PANE_SIDE_DEG) * (high**2 - low**2) / np.pi
    return np.asarray(_ROOM * _above(ways) + (1.0 - _ROOM) / share * pane)


LIGHTS = {
    light.name: light
    for light in (
        Light("open sky", "evenly bright from all sides above the horizon", _above),
        Light("clouded sky", "the standard overcast sky, brightest straight above", _clouded),
        Light("lamp", "a lamp 27 degrees behind straight above, in a dim room", _lamp),
        Light("side window", "a window pane to the left, in a dim room", _window),
    )
}


def light_named(name: str) -> Light:
    """The lighting of that name. Raises InputError with the nearest name where there is none."""
    if name not in LIGHTS:
        raise InputError(f'lighting "{name}" is not known; {nearest(name, LIGHTS)}')
    return LIGHTS[name]


def head_mask(ways: Floats) -> Floats:
    """1 for directions (..., 3) to the head of a viewer straight above, else 0: (...)."""
    return _disc((0.0, 0.0, 1.0), HEAD_DEG)(ways)
