"""Which caps come off the piece around one stone, before grinding."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull

from optimizer.mesh import Mesh, Plane
from optimizer.order import Workshop
from optimizer.placement.model import Placement
from optimizer.rough.model import Rough
from optimizer.sawing.directions import Direction, directions
from optimizer.sawing.search import Task, choose, in_reach, still_worth
from optimizer.sawing.standin import stand_in
from optimizer.several.model import allowance_mm

ROUNDING_MM = 1e-6  # so that rounding never brings a cut nearer than its allowance


@dataclass
class Caps:
    """The caps chosen for one stone, all in its own frame; ``done`` are those that were sawn."""

    placement: Placement
    task: Task
    candidates: list[Direction]
    chosen: tuple[Direction, ...]
    done: tuple[Direction, ...] = ()

    @staticmethod
    def of(
        rough: Rough,
        piece: Mesh,
        placement: Placement,
        workshop: Workshop,
        stop: Callable[[], bool] = lambda: False,
    ) -> "Caps":
        """Choose them for a piece of the rough that holds the stone."""
        pose = placement.pose
        to_stone = (piece.vertices - pose.translation) @ pose.rotation
        task = Task(
            stand_in=stand_in(Mesh(to_stone, piece.faces)),
            corners=placement.body.vertices_at(pose.width),
            workshop=workshop,
            ct_per_mm3=rough.material.sg / 200.0,
            allowance_mm=allowance_mm(workshop) + ROUNDING_MM,
        )
        flats = {f.name: f.plane.normal @ pose.rotation for f in rough.reference_faces}
        hull = ConvexHull(to_stone)
        candidates = directions(placement.body, flats, to_stone[hull.vertices])
        return Caps(placement, task, candidates, choose(task, candidates, stop))

    def plane(self, cut: Direction) -> Plane:
        """A cut's plane in the scan frame."""
        pose = self.placement.pose
        normal = pose.rotation @ cut.normal
        return Plane(normal, float(self.task.levels([cut])[0] + normal @ pose.translation))

    def left_on(self, whose: str = "") -> Iterator[str]:
        """The heaviest cap that the rule would still saw off and the search left, and why."""
        caps, left = still_worth(self.task, self.done, self.candidates)
        best = int(np.argmax(caps.worth))
        shop = self.task.workshop
        if caps.carats[best] < shop.keep_offcut_ct:
            return
        if not in_reach(self.task, self.candidates[best], left):
            why = f"it lies deeper than the saw's reach of {shop.saw_reach_mm:g} mm"
        elif len(self.done) == shop.most_cuts:
            why = f"only {shop.most_cuts} cuts are allowed"
        else:
            return  # the full mesh didn't bear the cut out: the tree has judged it
        yield f"A cap of about {caps.carats[best]:.1f} ct{whose} is left to grind, since {why}."
