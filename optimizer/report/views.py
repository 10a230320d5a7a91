"""The directions to look from: along the stone's own axes where there is a stone."""

from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats
from optimizer.plan_model import Plan


@dataclass(frozen=True)
class View:
    """A right-handed frame: ``right`` and ``up`` on the paper, ``out`` towards the eye."""

    name: str
    text: str  # what is seen, as the end of a sentence
    right: Floats  # (3,) unit, scan frame
    up: Floats
    out: Floats

    def flat(self, points: Floats) -> Floats:
        """Points (..., 3) on the paper, (..., 2) in mm."""
        return points @ np.stack([self.right, self.up], axis=1)


def straight_views(plan: Plan) -> tuple[View, View, View]:
    """Looking down on the table, along the width and along the length of the first stone.

    Without a stone, along the scan's own axes.
    """
    if not plan.stones:
        x, y, z = np.eye(3)
        return (
            View("From +z", "down the scan's z axis", x, y, z),
            View("From −y", "along the scan's y axis", x, z, -y),
            View("From +x", "against the scan's x axis", y, z, x),
        )
    x, y, z = plan.stones[0].placement.pose.rotation.T
    return (
        View("Face up", "down the axis onto the table", x, y, z),
        View("Side", "along the width, table upwards", x, z, -y),
        View("End", "along the length, table upwards", y, z, x),
    )


def start_view(plan: Plan) -> View:
    """A slanting look that shows the table, a side and an end at once."""
    x, y, z = (plan.stones[0].placement.pose.rotation if plan.stones else np.eye(3)).T
    out = 0.45 * x - 0.72 * y + 0.62 * z
    out = out / np.linalg.norm(out)
    right = np.cross(z, out) / np.linalg.norm(np.cross(z, out))
    return View("Slanting", "three sides at once", right, np.cross(out, right), out)


def all_views(plan: Plan) -> tuple[View, ...]:
    """The start view and the straight ones, as the page's buttons have them."""
    return (start_view(plan), *straight_views(plan))
