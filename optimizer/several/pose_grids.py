"""How large each offer's stone can be on a grid of poses: the estimate by which trial cuts are
compared.

Each pose is evaluated once, against points that stand in for the surface. How much smaller the
stone is beside a saw cut follows in closed form, so that any piece is estimated from the same grid.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import permutations, product

import numpy as np

from optimizer.mesh import Floats, Ints, Plane
from optimizer.offers.offer import Offer
from optimizer.placement.containers import Planes
from optimizer.placement.ground import Ground
from optimizer.placement.growing import growing_by_width
from optimizer.placement.growth import Growth
from optimizer.placement.place import Want, directed_task
from optimizer.placement.rotations import one_of_each_orbit
from optimizer.placement.search import Effort, Task
from optimizer.several.kernels.pose_grids import (
    Poses,
    SortedPoints,
    TurnedBody,
    best_on_both_sides,
    gauges_at,
)

DEEPEST = 30  # centres by which the floor of the widths is set
FLOOR = 0.5  # of the width that the stones would have if all parts of the rough were equal
ROOMY = 1.15  # of the greatest width ordered: so far poses are told apart by the room they have
NEARLY = 0.6  # of the least width ordered: from here on a climb may still reach it


@dataclass(frozen=True, eq=False)
class PoseGrid:
    """The widths of one offer's stone at poses in the whole rough, in the ground's frame."""

    wish: int
    offer: Offer
    task: Task
    least: float  # poses at which the stone is narrower are dropped
    square: int  # from this number on the task's rotations lie square to a frame
    rotations: Ints  # (p,) index into the task's rotations
    centres: Ints  # (p,) index into the task's centres
    widths: Floats  # (p,) falling; up to ``ROOMY`` times the greatest ordered

    @property
    def skin_mm(self) -> float:
        """Least distance from the finished stone to the surface."""
        return self.offer.want.skin_mm

    def pose(self, number: int) -> tuple[Floats, Floats]:
        """The rotation (3, 3) and the centre (3,) of a pose."""
        rotation = np.ascontiguousarray(self.task.rotations[self.rotations[number]])
        return rotation, self.task.centres[self.centres[number]]

    def reach(self, normal: Floats) -> tuple[Floats, Floats]:
        """How far the body reaches from its origin along a unit direction at each rotation: fixed
        (r,) + pace (r,)·width, without the skin."""
        fixed, pace = _reach(self.task.growing.growths[0], self.task.rotations, normal)
        return fixed - self.skin_mm, pace

    def whole(self) -> "RemainingPoses":
        """All poses: the piece is the whole rough."""
        return RemainingPoses(np.arange(len(self.widths)), self.widths)

    def beside(self, left: "RemainingPoses", normal: Floats, offset: float) -> "RemainingPoses":
        """The poses that are left below a wall normal·x = offset (ground's frame)."""
        if not len(left.poses):
            return left
        widths = self._widths_beside(left, normal, offset)
        kept = np.argsort(-widths, kind="stable")[: int((widths >= self.least).sum())]
        return RemainingPoses(left.poses[kept], widths[kept])

    def widest_beside(self, left: "RemainingPoses", normal: Floats, offset: float) -> float:
        """Width of the largest stone below a wall normal·x = offset (ground's frame); 0 where none
        fits."""
        widest = float(self._widths_beside(left, normal, offset).max(initial=0.0))
        return widest if widest >= self.least else 0.0

    def within(self, walls: Sequence[Plane]) -> "RemainingPoses":
        """The poses that are left below several walls (ground's frame), in the grid's own order."""
        left = self.whole()
        for wall in walls:
            left = replace(left, widths=self._widths_beside(left, wall.normal, wall.offset))
        kept = np.flatnonzero(left.widths >= self.least)
        return RemainingPoses(kept, left.widths[kept])

    def _widths_beside(self, left: "RemainingPoses", normal: Floats, offset: float) -> Floats:
        fixed, pace = self.reach(normal)
        rotations = self.rotations[left.poses]
        room = offset - (self.task.centres @ normal)[self.centres[left.poses]]
        return np.minimum(left.widths, (room - fixed[rotations]) / pace[rotations])

    def best_of_cuts(
        self, left: "RemainingPoses", normal: Floats, offsets: Floats, gap_mm: float
    ) -> Floats:
        """The greatest width (k, 2) below and above each of the cuts at ``offsets`` (k,), all
        ``gap_mm`` away from the stones; -inf where no pose is left."""
        both = self.reach(normal), self.reach(-normal)
        poses = Poses(left.widths, self.rotations[left.poses], self.centres[left.poses])
        best: Floats = best_on_both_sides(
            poses, self.task.centres @ normal, np.array([both[0][0], both[1][0]]),
            np.array([both[0][1], both[1][1]]), offsets, gap_mm,
        )  # fmt: skip
        return np.where(best >= self.least, best, -np.inf)


@dataclass(frozen=True, eq=False)
class RemainingPoses:
    """The poses (p,) of a grid that a piece leaves, and the widths there, falling unless said
    otherwise."""

    poses: Ints
    widths: Floats


@dataclass(frozen=True)
class Sampling:
    """How many poses a grid has, and which."""

    rotations: int  # about so many
    centres: int  # about so many
    parts: int  # stones wanted of the piece at most: the more, the narrower the stones kept
    frames: Sequence[Floats]  # (3, 3) rows: directions in the ground's frame to lie square to
    seed: int


def pose_grid(ground: Ground, wish: int, offer: Offer, sampling: Sampling) -> PoseGrid:
    """The grid of one offer. Where the order does not orient the stone, rotations square to the
    frames are added."""
    want = offer.want
    growing = growing_by_width(want.body, want.skin_mm, want.width_mm[0])
    effort = Effort(sampling.rotations, sampling.centres, 0, 0, 0, 0, 0)
    places = thinned(ground, sampling.centres)
    task = directed_task(places, want, growing, want.width_mm[1], effort, sampling.seed)
    square_from = len(task.rotations)
    if unoriented(want):
        square = one_of_each_orbit(_square_to(sampling.frames), want.body.rotations)
        task = replace(task, rotations=np.concatenate([task.rotations, square]))
    roomy = replace(task, ceiling=ROOMY * task.ceiling)
    deepest = replace(roomy, centres=task.centres[:DEEPEST])
    least = NEARLY * want.width_mm[0]
    best = float(_gauges(ground, deepest, least).max())
    least = max(least, FLOOR * best / float(np.cbrt(sampling.parts)))
    widths = _gauges(ground, roomy, least)
    order = np.argsort(-widths, axis=None, kind="stable")[: int((widths >= least).sum())]
    rotations, centres = np.unravel_index(order, widths.shape)
    widths = widths[rotations, centres]
    return PoseGrid(wish, offer, task, least, square_from, rotations, centres, widths)


def unoriented(want: Want) -> bool:
    """Whether the order allows every rotation."""
    zone = want.zone
    return want.direction is None and (zone is None or (zone.tilt_deg or zone.azimuth_deg) is None)


def _square_to(frames: Sequence[Floats]) -> Floats:
    """The rotations (n, 3, 3) that lay a stone's axes along each frame's: 24 a frame."""
    signed = [
        np.eye(3)[list(order)] * np.array(signs)
        for order in permutations(range(3))
        for signs in product((1.0, -1.0), repeat=3)
    ]
    proper = [one for one in signed if np.linalg.det(one) > 0.0]
    return np.array([frame.T @ one for frame in frames for one in proper])


def thinned(ground: Ground, count: int) -> Ground:
    """The ground with about ``count`` of its places: the deepest in each cube of a lattice."""
    places, depths = ground.places, ground.depths
    if len(places) <= count:
        return ground
    low = places.min(axis=0)
    step = float(np.ptp(places, axis=0).max()) / 40.0 * np.cbrt(len(places) / count)
    cubes = np.floor((places - low) / step).astype(np.int64)
    numbers = np.ravel_multi_index(tuple(cubes.T), tuple(cubes.max(axis=0) + 1))
    order = np.lexsort((np.arange(len(depths)), -depths, numbers))
    first = np.concatenate([[True], np.diff(numbers[order]) > 0])
    kept = order[first]
    return replace(ground, places=places[kept], depths=depths[kept])


def _gauges(ground: Ground, task: Task, floor: float) -> Floats:
    """Widths (r, c) on stand-in points; the planes of a convex solid and walls that are planes
    count exactly."""
    growth, convex = task.growing.growths[0], ground.inner
    points = ground.coarse if convex is None else ground.coarse[:0]
    gauges = _gauges_on(np.vstack([points, task.obstacles]), task, growth, floor)
    if len(task.off_table):
        part = _gauges_on(task.off_table, task, growth.under_table, floor)
        gauges = np.minimum(gauges, part)
    for wall in (*task.walls, convex):
        if isinstance(wall, Planes):
            for normal, offset in zip(wall.normals, wall.offsets, strict=True):
                fixed, pace = _reach(growth, task.rotations, normal)
                room = offset - task.centres @ normal
                gauges = np.minimum(gauges, (room[None] - fixed[:, None]) / pace[:, None])
    return gauges


def _gauges_on(points: Floats, task: Task, growth: Growth, floor: float) -> Floats:
    """Widths (r, c) on points (n, 3)."""
    if not len(points):
        return np.full((len(task.rotations), len(task.centres)), task.ceiling)
    distances = np.linalg.norm(points[None] - task.centres[:, None], axis=2)
    orders = np.argsort(distances, axis=1)
    around = SortedPoints(points, orders, np.take_along_axis(distances, orders, axis=1))
    unit = growth.normals / growth.beta[:, None]
    facets = np.ascontiguousarray(unit @ np.swapaxes(task.rotations, 1, 2))
    corners = (growth.corners0, growth.margin0), (growth.corners1, growth.margin1)
    reach = np.array([np.linalg.norm(c, axis=1).max() + margin for c, margin in corners])
    body = TurnedBody(facets, growth.alpha / growth.beta, reach)
    return gauges_at(around, task.centres, body, floor, task.ceiling)  # type: ignore[no-any-return]


def _reach(growth: Growth, rotations: Floats, normal: Floats) -> tuple[Floats, Floats]:
    """How far a body with its margin reaches from its origin along a unit direction, at each
    rotation: fixed (r,) + pace (r,)·width."""
    turned = normal @ rotations
    fixed = (turned @ growth.corners0.T).max(axis=1) + growth.margin0
    return fixed, (turned @ growth.corners1.T).max(axis=1) + growth.margin1
