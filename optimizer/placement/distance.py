"""The exact distance from a placed stone to the rough's surface."""

import numpy as np

from optimizer.design.model import Body
from optimizer.placement.containers import Surface
from optimizer.placement.growing import growing_by_clearance
from optimizer.placement.model import Pose
from optimizer.placement.situation import Situation


def distance_to_surface(body: Body, pose: Pose, surface: Surface) -> float:
    """Least distance in mm from a placed stone to the surface around it (same frame).

    It is the margin that the stone can grow: exact over all triangles, corner against face, edge
    against edge, facet against corner. Negative where the surface enters the stone: how far its
    facets must move in to be clear of it; without end where its middle lies outside a solid.
    """
    growing = growing_by_clearance(body, pose.width)
    at = Situation(growing, np.ascontiguousarray(pose.rotation), pose.translation)
    return surface.gauge(at, -np.inf)
