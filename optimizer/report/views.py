"""The directions to look from: along the stone's own axes where there is a stone."""

import numpy as np

from optimizer.plan_model import Plan, Stone
from optimizer.view.look import View, axis_views, slanting_view


def straight_views(plan: Plan) -> tuple[View, View, View]:
    """Looking down on the table, along the width and along the length of the first stone.

    Without a stone, along the scan's own axes.
    """
    if not plan.stones:
        return axis_views()
    x, y, z = plan.stones[0].placement.pose.rotation.T
    return (
        face_up_of(plan.stones[0]),
        View("Side", "along the width, table upwards", x, z, -y),
        View("End", "along the length, table upwards", y, z, x),
    )


def face_up_of(stone: Stone) -> View:
    """Looking down on a stone's table."""
    return View("Face up", "down the axis onto the table", *stone.placement.pose.rotation.T)


def start_view(plan: Plan) -> View:
    """A slanting look that shows the table, a side and an end at once."""
    return slanting_view(plan.stones[0].placement.pose.rotation.T if plan.stones else np.eye(3))


def all_views(plan: Plan) -> tuple[View, ...]:
    """The start view and the straight ones, as the page's buttons have them."""
    return (start_view(plan), *straight_views(plan))
