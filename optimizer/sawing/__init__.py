"""Saw cuts: which caps come off the rough before grinding, and the pieces they leave."""

from collections.abc import Callable

import numpy as np
from scipy.spatial import ConvexHull

from optimizer.mesh import Floats, Mesh, Plane
from optimizer.order import Workshop
from optimizer.placement.model import Placement
from optimizer.rough.model import Rough
from optimizer.sawing.directions import Direction, directions
from optimizer.sawing.model import SawPlan
from optimizer.sawing.search import Task, choose, in_reach, still_worth
from optimizer.sawing.standin import stand_in
from optimizer.sawing.tree import Tree

__all__ = ["saw_plan"]

ROUNDING_MM = 1e-6  # so that rounding never brings a cut nearer than its allowance


def saw_plan(
    rough: Rough,
    placement: Placement,
    workshop: Workshop,
    stop: Callable[[], bool] = lambda: False,
) -> tuple[SawPlan, tuple[str, ...]]:
    """The saw cuts for one stone laid in the rough, and warnings in plain sentences.

    Sawn off is every cap that weighs ``keep_offcut_ct`` or more, or that saves grinding more than
    ``grind_mm``, at most ``most_cuts`` of them; the rest is ground. The middle of each kerf stays
    kerf/2 + saw_error + clean_up from the stone's nearest corner, and each cut goes right through
    the piece that holds the stone. The same input gives the same plan. Once ``stop`` is true the
    cuts are chosen one by one and left as they are, which may leave a little more to grind.
    """
    pose = placement.pose
    to_stone = (rough.mesh.vertices - pose.translation) @ pose.rotation
    task = _task(rough, placement, workshop, to_stone)
    flats = {f.name: f.plane.normal @ pose.rotation for f in rough.reference_faces}
    hull = ConvexHull(to_stone)
    candidates = directions(placement.body, flats, to_stone[hull.vertices])
    tree = Tree(rough.mesh, pose.translation, rough.material.sg, workshop)
    done = tuple(
        cut
        for cut in choose(task, candidates, stop)
        if tree.saw(_in_scan(placement, task, cut), cut.name)
    )
    return tree.plan(), (*tree.warnings, *_left_on(task, done, candidates))


def _task(rough: Rough, placement: Placement, workshop: Workshop, to_stone: Floats) -> Task:
    return Task(
        stand_in=stand_in(Mesh(to_stone, rough.mesh.faces)),
        corners=placement.body.vertices_at(placement.pose.width),
        workshop=workshop,
        ct_per_mm3=rough.material.sg / 200.0,
        allowance_mm=workshop.kerf_mm / 2.0
        + workshop.saw_error_mm
        + workshop.clean_up_mm
        + ROUNDING_MM,
    )


def _in_scan(placement: Placement, task: Task, cut: Direction) -> Plane:
    """A cut's plane, moved from the stone frame to the scan frame."""
    normal = placement.pose.rotation @ cut.normal
    offset = float(task.levels([cut])[0] + normal @ placement.pose.translation)
    return Plane(normal, offset)


def _left_on(task: Task, done: tuple[Direction, ...], candidates: list[Direction]) -> list[str]:
    """The heaviest cap that the rule would still saw off and the search left, and why."""
    caps, left = still_worth(task, done, candidates)
    best = int(np.argmax(caps.worth))
    if caps.carats[best] < task.workshop.keep_offcut_ct:
        return []
    if not in_reach(task, candidates[best], left):
        why = f"it lies deeper than the saw's reach of {task.workshop.saw_reach_mm:g} mm"
    elif len(done) == task.workshop.most_cuts:
        why = f"only {task.workshop.most_cuts} cuts are allowed"
    else:
        return []  # the full mesh didn't bear the cut out: the tree has judged it
    return [f"A cap of about {caps.carats[best]:.1f} ct is left to grind, since {why}."]
