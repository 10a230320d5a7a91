"""The curves that girdle facets touch, each as its support: how far it reaches towards azimuths."""

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from optimizer.design.model import Outline
from optimizer.mesh import Floats

Support = Callable[[Floats, float, float], Floats]


def curve_of(outline: Outline) -> Support:
    """The support of an outline's curve: (azimuths (n,), length, width) to distances (n,)."""
    match outline.shape:
        case "rounded":
            return rounded(outline.fullness)
        case "pear":
            return pear
        case "egg":
            return egg
    return bowed(outline)


def rounded(fullness: float) -> Support:
    """The curve |x/a|^p + |y/b|^p = 1 with p = ``fullness``: an ellipse at 2, fuller above."""
    q = fullness / (fullness - 1.0)

    def support(theta: Floats, length: float, width: float) -> Floats:
        along = np.abs(length / 2.0 * np.cos(theta)) ** q
        across = np.abs(width / 2.0 * np.sin(theta)) ** q
        return np.asarray((along + across) ** (1.0 / q), np.float64)

    return support


def pear(theta: Floats, length: float, width: float) -> Floats:
    """A half circle at −x, and from its ends two arcs that meet in a point at +x.

    At width 1 the half circle is centred at x₀ = 1/2 − length/2. Each arc leaves it smoothly,
    so its radius is (length − 1/2)² + 1/4 and its centre lies straight across from x₀.
    """
    ratio = length / width
    middle = 0.5 - ratio / 2.0
    radius = (ratio - 0.5) ** 2 + 0.25
    x, y = np.cos(theta), np.abs(np.sin(theta))
    arc = middle * x + (0.5 - radius) * y + radius
    at_point = y < (radius - 0.5) / radius
    front = np.where(at_point, ratio / 2.0 * x, arc)
    return np.asarray(width * np.where(x > 0.0, front, middle * x + 0.5), np.float64)


def egg(theta: Floats, length: float, width: float) -> Floats:
    """A half circle at −x, and half an ellipse at +x, which join smoothly."""
    ratio = length / width
    middle, reach = 0.5 - ratio / 2.0, ratio - 0.5
    x, y = np.cos(theta), np.sin(theta)
    front = np.sqrt((reach * x) ** 2 + (0.5 * y) ** 2)
    return np.asarray(width * (middle * x + np.where(x > 0.0, front, 0.5)), np.float64)


def bowed(outline: Outline) -> Support:
    """Arcs from each tip of the outline to the next, stretched to length and width."""
    arcs = arcs_of(outline)

    def support(theta: Floats, length: float, width: float) -> Floats:
        sizes = np.array([length, width]) / arcs.extents
        towards = np.column_stack([np.cos(theta), np.sin(theta)]) * sizes
        return arcs.reach(towards)

    return support


class Arcs:
    """A convex outline of n circular arcs; arc i leads counter-clockwise from tip i to the next."""

    def __init__(self, tips: Floats, bows: Floats) -> None:
        chord = np.roll(tips, -1, axis=0) - tips
        length = np.linalg.norm(chord, axis=1)
        out = np.column_stack([chord[:, 1], -chord[:, 0]]) / length[:, None]
        half = 2.0 * np.arctan(2.0 * bows)  # half of the angle that the arc turns
        self.radius = np.divide(length / 2.0, np.sin(half), out=np.zeros_like(half), where=half > 0)
        self.centres = tips + chord / 2.0 - out * (self.radius * np.cos(half))[:, None]
        middle = np.arctan2(out[:, 1], out[:, 0])
        self.starts, self.ends = middle - half, middle + half  # azimuths of the arcs' normals
        self.tips = tips
        self.extents = np.ones(2)
        quarters = np.array([[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]])
        self.extents = self.reach(quarters).reshape(2, 2).sum(axis=1)

    @property
    def is_convex(self) -> bool:
        """Whether the outline turns the same way all round, its tips included."""
        turns = (np.roll(self.starts, -1) - self.ends + np.pi) % (2.0 * np.pi) - np.pi
        whole = float(turns.sum() + (self.ends - self.starts).sum())
        return bool(turns.min() >= 0.0) and abs(whole - 2.0 * np.pi) < 1e-9

    def reach(self, towards: Floats) -> Floats:
        """max of towards·p over the outline, (n,), for vectors (n, 2) of any length."""
        at_tips = (towards @ self.tips.T).max(axis=1)
        azimuth = np.arctan2(towards[:, 1], towards[:, 0])[:, None]
        on_arc = (azimuth - self.starts) % (2.0 * np.pi) <= self.ends - self.starts
        along = np.linalg.norm(towards, axis=1)[:, None] * self.radius
        at_arcs = np.where(on_arc, towards @ self.centres.T + along, -np.inf).max(axis=1)
        return np.asarray(np.maximum(at_tips, at_arcs), np.float64)


@lru_cache(maxsize=64)
def arcs_of(outline: Outline) -> Arcs:
    """The arcs of a bowed outline, before they are stretched."""
    return Arcs(np.array(outline.tips), np.array(outline.bows))
