"""Random poses of a stone and a boundary, for the tests of demands."""

import numpy as np
import shapes

from optimizer.mesh import Plane
from optimizer.placement.model import Placement, Pose
from optimizer.placement.rotations import turn
from optimizer.placement.situation import Situation
from optimizer.placement.zone_view import view_zone
from optimizer.rough.model import Colour, Zone

MM_PER_RADIAN = 5.0


def random_situation(growing, seed):
    """A random pose and a boundary that crosses the stone."""
    rng = np.random.default_rng(seed)
    rotation, translation = shapes.random_motion(rng, 5.0)
    normal = shapes.random_rotation(rng)[:, 0]
    offset = float(normal @ translation) + rng.uniform(-0.3, 0.3) * 8.0
    sigma = rng.uniform(7.0, 12.0)
    return Situation(growing, rotation, translation, sigma, MM_PER_RADIAN), Plane(normal, offset)


def moved(at, move):
    """The situation after a small move (7,)."""
    rotation = turn(move[4:] / MM_PER_RADIAN) @ at.rotation
    return Situation(
        at.growing, rotation, at.translation + move[1:4], at.sigma + move[0], MM_PER_RADIAN
    )


def guidance_figures(growing, at, plane):
    """Tilt, azimuth, offset and share as guidance computes them."""
    pose = Pose(at.sigma, at.rotation, at.translation)
    zone = Zone("split", plane, Colour("violet", "#8060a0"), Colour("yellow", "#e0c040"))
    view = view_zone(zone, "violet", Placement(growing.body, pose, 0.0))
    return {
        "tilt_deg": view.tilt_deg,
        "azimuth_deg": view.azimuth_deg if view.azimuth_deg is not None else 0.0,
        "offset": view.offset,
        "share_percent": view.share_percent,
    }
