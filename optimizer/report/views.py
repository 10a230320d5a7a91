"""The page's views: along the stone's own axes where there is a stone."""

import numpy as np

from optimizer.plan_model import Plan, Stone
from optimizer.view.look import View, axis_views, slanting_view

SPREAD_WEIGHT = 0.3  # of the rough's extent beside the cuts' directions


def straight_views(plan: Plan) -> tuple[View, View, View]:
    """The views down on the table, along the width and along the length of the stone.

    Without a stone: along the scan's own axes. With several stones: across the cuts.
    """
    if not plan.stones:
        return axis_views()
    if len(plan.stones) > 1:
        first = across_the_cuts(plan)
        x, y, z = first.right, first.up, first.out
        return (
            first,
            View("From below", "the upper edge of the first view towards you", x, z, -y),
            View("From the right", "the right edge of the first view towards you", y, z, x),
        )
    x, y, z = plan.stones[0].placement.pose.rotation.T
    return (
        face_up_of(plan.stones[0]),
        View("Side", "along the width, table upwards", x, z, -y),
        View("End", "along the length, table upwards", y, z, x),
    )


def across_the_cuts(plan: Plan) -> View:
    """The view that shows most cuts on edge; deeper cuts count more."""
    spread = np.cov(plan.rough.mesh.vertices.T)
    spread /= np.trace(spread)
    cuts = sum(
        (cut.depth_mm * np.outer(cut.plane.normal, cut.plane.normal) for cut in plan.sawing.cuts),
        start=np.zeros((3, 3)),
    )
    cuts /= max(float(np.trace(cuts)), 1e-12)
    _, axes = np.linalg.eigh(cuts + SPREAD_WEIGHT * spread)
    out, right = axes[:, 0], axes[:, 2]
    text = "where most cuts are seen on edge"
    return View("Across the cuts", text, right, np.cross(out, right), out)


def face_up_of(stone: Stone) -> View:
    """Looking down on a stone's table."""
    return View("Face up", "down the axis onto the table", *stone.placement.pose.rotation.T)


def start_view(plan: Plan) -> View:
    """A slanting look that shows the table, a side and an end at once."""
    return slanting_view(plan.stones[0].placement.pose.rotation.T if plan.stones else np.eye(3))


def all_views(plan: Plan) -> tuple[View, ...]:
    """The start view and the straight ones, as the page's buttons have them."""
    return (start_view(plan), *straight_views(plan))
