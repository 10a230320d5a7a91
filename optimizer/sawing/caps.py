"""Which caps come off a piece: before its stone is ground, or before its stones are separated."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import ConvexHull

from optimizer.mesh import Floats, Mesh, Plane
from optimizer.order import Workshop
from optimizer.placement.model import Placement, Pose
from optimizer.sawing.depth import deepest_mm
from optimizer.sawing.directions import CutDirection, directions
from optimizer.sawing.search import SawTask, choose_cuts, in_reach, remaining_gains
from optimizer.sawing.volume_sample import sample_volume
from optimizer.several.model import allowance_mm
from optimizer.wording.plain_number import plain

ROUNDING_MM = 1e-6  # so that rounding never brings a cut nearer than its allowance


@dataclass
class Caps:
    """The caps chosen for a stone or a group of stones, in the frame of the first stone."""

    frame: Pose
    task: SawTask
    candidates: list[CutDirection]
    chosen: tuple[CutDirection, ...]
    before: int = 0  # caps already off the piece when these were chosen
    done: tuple[CutDirection, ...] = ()  # those of the chosen caps that have been sawn

    @staticmethod
    def of(
        piece: Mesh,
        stones: Sequence[Placement],
        sg: float,
        easy: Mapping[str, Floats],
        workshop: Workshop,
        before: int,
        stop: Callable[[], bool],
    ) -> "Caps":
        """Choose the caps of a piece that holds the stones and has already lost ``before`` caps.

        ``easy``: unit normals (3,) of cuts that are easy to set up, each under the words that say
        how such a cut runs.
        """
        frame = stones[0].pose
        here = (piece.vertices - frame.translation) @ frame.rotation
        corners = [_corners_in(frame, stone) for stone in stones]
        task = SawTask(
            sample=sample_volume(Mesh(here, piece.faces)),
            corners=np.vstack(corners),
            workshop=replace(workshop, most_cuts=max(workshop.most_cuts - before, 0)),
            ct_per_mm3=sg / 200.0,
            allowance_mm=allowance_mm(workshop) + ROUNDING_MM,
        )
        own = {run: normal @ frame.rotation for run, normal in easy.items()}
        body = stones[0].body if len(stones) == 1 else None
        candidates = directions(body, own, here[ConvexHull(here).vertices])
        return Caps(frame, task, candidates, choose_cuts(task, candidates, stop), before)

    def plane(self, cut: CutDirection) -> Plane:
        """A cut's plane in the scan frame."""
        normal = self.frame.rotation @ cut.normal
        return Plane(normal, float(self.task.levels([cut])[0] + normal @ self.frame.translation))

    def unsawn_cap_warnings(self, whose: str = "") -> Iterator[str]:
        """A sentence on the heaviest cap that the rule asks for but no cut takes off, and why."""
        caps, left = remaining_gains(self.task, self.done, self.candidates)
        best = int(np.argmax(caps.worth))
        shop = self.task.workshop
        if caps.carats[best] < shop.keep_offcut_ct:
            return
        if not in_reach(self.task, self.candidates[best], left):
            why = f"it lies deeper than the saw's reach of {plain(deepest_mm(shop))} mm"
        elif len(self.done) >= shop.most_cuts:
            most = shop.most_cuts + self.before
            why = "only one cut is allowed" if most == 1 else f"only {most} cuts are allowed"
        else:
            return  # the full mesh didn't bear the cut out: the tree has judged it
        yield f"A cap of about {caps.carats[best]:.1f} ct{whose} is left to grind, since {why}."


def _corners_in(frame: Pose, stone: Placement) -> Floats:
    """The corners (n, 3) of a stone in the frame ``frame`` of another stone."""
    own = stone.body.vertices_at(stone.pose.width)
    if stone.pose is frame:
        return own
    scan = own @ stone.pose.rotation.T + stone.pose.translation
    return np.asarray((scan - frame.translation) @ frame.rotation)
