"""Cross-sections of a boule as rings of points that lie on their curve."""

import numpy as np

from optimizer.mesh import Floats
from optimizer.rough.measured.loft import steps

_LEAST_SIDES = 24


def ellipses(half: Floats, sagitta_mm: float) -> Floats:
    """Polygons (k, n, 2) in ellipses of half axes ``half`` (k, 2) along x and y."""
    sides = 4 * -(-steps(2.0 * np.pi, half.max(), sagitta_mm) // 4)  # each axis ends in a corner
    turn = np.arange(max(sides, _LEAST_SIDES)) * (2.0 * np.pi / max(sides, _LEAST_SIDES))
    circle = np.column_stack([np.cos(turn), np.sin(turn)])
    return np.asarray(half[:, None, :] * circle)


def segments(half: Floats, sagitta_mm: float) -> Floats:
    """Polygons (k, n, 2) in segments of circles: the chord from (-w, 0) to (w, 0), the arc through
    (0, t), for rows (w, t) of ``half`` (k, 2). The chord is the ring's last side.

    The circle's radius follows from r² = w² + (r - t)².
    """
    w, t = half.T
    radius = (w**2 + t**2) / (2.0 * t)
    first = np.arctan2(radius - t, w)  # of the chord's end, as seen from the circle's middle
    sweep = np.pi - 2.0 * first
    sides = 2 * -(-steps(sweep, radius, sagitta_mm) // 2)  # the top of the arc is a corner
    share = np.linspace(0.0, 1.0, max(sides, _LEAST_SIDES) + 1)
    turn = first[:, None] + sweep[:, None] * share
    ring = radius[:, None, None] * np.stack([np.cos(turn), np.sin(turn)], axis=2)
    ring[:, :, 1] += (t - radius)[:, None]
    ring[:, [0, -1], 1] = 0.0  # exactly on the split face
    return np.asarray(ring)
