"""The preform: the first facets of all, which give the outline and are later cut away.

Each girdle facet has a preform facet below it, and all of these run to one point on the axis. The
facet under girdle facet i, which lies d_i from the axis, has the angle whose tangent is h / d_i;
so all cross one level h above the point exactly where the girdle's facets belong. Girdle facets
that are cut down to this one level line leave the outline, and one width makes its size. The level
line stays as the pavilion's girdle line; its corners are the first places that mains are cut to.
"""

import numpy as np

from optimizer.design.model import Design, TierRule, TouchRule
from optimizer.design.stone import CutTier
from optimizer.mesh import Floats

NAME = "preform"
SPARE = 1.02  # how much deeper than the least depth the point lies
AT_LINE = 1e-9  # of the width: corners this near to the girdle line lie on it
STEP = 0.01  # of the width: the point's depth is rounded up to this


def preform(girdle: list[CutTier], pavilion: Floats, design: Design) -> CutTier:
    """The preform's facets, with heights measured up from the pavilion's girdle line.

    ``girdle`` holds the girdle's tiers, ``pavilion`` the pavilion's corners (k, 3) as (x, y, h).
    The point lies deep enough that every corner is inside the preform, by ``SPARE``.
    """
    settings = [s for tier in girdle for s in tier.rule.settings]
    order = np.argsort(settings, kind="stable")
    theta = np.concatenate([tier.theta for tier in girdle])[order]
    far = np.concatenate([tier.distance for tier in girdle])[order]
    rise = SPARE * _least_rise(theta, far, pavilion)
    rise = float(np.ceil(rise / STEP) * STEP)
    angles = np.arctan2(rise, far)
    point = np.tile([0.0, 0.0, rise], (len(far), 1))
    rule = TierRule(
        NAME, "pavilion", None, tuple(settings[k] for k in order),
        (TouchRule("centre point"),), "the centre point",
    )  # fmt: skip
    return CutTier(rule, angles, theta, rise * np.cos(angles), (point,))


def _least_rise(theta: Floats, far: Floats, pavilion: Floats) -> float:
    """h at which the preform just holds every corner: facet i passes one at (u, z) where
    (far_i − u)·h = far_i·z, z being its depth below the girdle line."""
    inside = far - pavilion[:, :2] @ np.vstack([np.cos(theta), np.sin(theta)])
    depth = pavilion[:, 2:]
    deep = pavilion[:, 2] > AT_LINE
    return float((far * depth / np.maximum(inside, AT_LINE))[deep].max())
