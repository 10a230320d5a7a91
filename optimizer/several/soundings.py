"""How large each offer's stone can be at very many poses: what trial cuts are judged by.

The stand-ins are judged once. Beside a saw cut a stone is smaller in closed form, so that a piece
beside any cuts is judged without asking the surface again.
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
from optimizer.several.kernels.soundings import best_beside, gauges_at

DEEPEST = 30  # centres from which the floor is taken
FLOOR = 0.5  # of the width that so many equal parts of the best stone would have
NEARLY = 0.6  # of the least width ordered: from here on a climb may still reach it


@dataclass(frozen=True, eq=False)
class Sounding:
    """One offer at many poses in the whole rough; the ground's frame."""

    wish: int
    offer: Offer
    task: Task
    least: float  # width below which a pose is not looked at
    turns: Ints  # (p,) which of the task's rotations
    centres: Ints  # (p,) which of its centres
    widths: Floats  # (p,) falling

    @property
    def skin_mm(self) -> float:
        """Least distance from the finished stone to the surface."""
        return self.offer.want.skin_mm

    def reach(self, normal: Floats) -> tuple[Floats, Floats]:
        """How far the body reaches along a unit direction from its origin at each rotation: fixed
        (r,) + pace (r,)·width, without the skin."""
        fixed, pace = _reach(self.task.growing.growths[0], self.task.rotations, normal)
        return fixed - self.skin_mm, pace


@dataclass(frozen=True, eq=False)
class RemainingPoses:
    """What a piece leaves of a sounding: poses (p,) and the widths there, falling but where said
    otherwise."""

    poses: Ints
    widths: Floats


def beside(
    sounding: Sounding, left: RemainingPoses, normal: Floats, offset: float
) -> RemainingPoses:
    """What is left below a wall normal·x = offset (ground's frame)."""
    if not len(left.poses):
        return left
    fixed, pace = sounding.reach(normal)
    turns = sounding.turns[left.poses]
    room = offset - (sounding.task.centres @ normal)[sounding.centres[left.poses]]
    widths = np.minimum(left.widths, (room - fixed[turns]) / pace[turns])
    kept = np.argsort(-widths, kind="stable")[: int((widths >= sounding.least).sum())]
    return RemainingPoses(left.poses[kept], widths[kept])


def within(sounding: Sounding, walls: Sequence[Plane]) -> RemainingPoses:
    """What is left below several walls (ground's frame), in any order."""
    widths = sounding.widths
    for wall in walls:
        fixed, pace = sounding.reach(wall.normal)
        room = wall.offset - (sounding.task.centres @ wall.normal)[sounding.centres]
        widths = np.minimum(widths, (room - fixed[sounding.turns]) / pace[sounding.turns])
    kept = np.flatnonzero(widths >= sounding.least)
    return RemainingPoses(kept, widths[kept])


def widest_beside(sounding: Sounding, left: RemainingPoses, normal: Floats, offset: float) -> float:
    """Width of the largest stone below a wall normal·x = offset (ground's frame); 0 for none."""
    fixed, pace = sounding.reach(normal)
    turns = sounding.turns[left.poses]
    room = offset - (sounding.task.centres @ normal)[sounding.centres[left.poses]]
    widths = np.minimum(left.widths, (room - fixed[turns]) / pace[turns])
    widest = float(widths.max(initial=0.0))
    return widest if widest >= sounding.least else 0.0


def best_of_cuts(
    sounding: Sounding, left: RemainingPoses, normal: Floats, offsets: Floats, gap_mm: float
) -> Floats:
    """The greatest width (k, 2) below and above cuts at ``offsets`` (k,); −inf: none is left."""
    both = sounding.reach(normal), sounding.reach(-normal)
    best: Floats = best_beside(
        left.widths, sounding.turns[left.poses], sounding.centres[left.poses],
        sounding.task.centres @ normal, np.array([both[0][0], both[1][0]]),
        np.array([both[0][1], both[1][1]]), offsets, gap_mm,
    )  # fmt: skip
    return np.where(best >= sounding.least, best, -np.inf)


def sound(
    ground: Ground,
    wish: int,
    offer: Offer,
    *,
    parts: int,
    rotations: int,
    centres: int,
    frames: Sequence[Floats],
    seed: int,
) -> Sounding:
    """Judge an offer at about ``rotations`` × ``centres`` poses, for a piece of which up to
    ``parts`` stones are wanted. Where nothing aims the stones they also lie square to ``frames``
    (3, 3), whose rows are directions in the ground's frame."""
    want = offer.want
    growing = growing_by_width(want.body, want.skin_mm, want.width_mm[0])
    effort = Effort(rotations, centres, 0, 0, 0, 0, 0)
    task = directed_task(thinned(ground, centres), want, growing, want.width_mm[1], effort, seed)
    if _unaimed(want):
        square = one_of_each_orbit(_square_to(frames), want.body.rotations)
        task = replace(task, rotations=np.concatenate([task.rotations, square]))
    deepest = replace(task, centres=task.centres[:DEEPEST])
    least = NEARLY * want.width_mm[0]
    best = float(_gauges(ground, deepest, least).max())
    least = max(least, FLOOR * best / float(np.cbrt(parts)))
    widths = _gauges(ground, task, least)
    order = np.argsort(-widths, axis=None, kind="stable")[: int((widths >= least).sum())]
    turns, places = np.unravel_index(order, widths.shape)
    return Sounding(wish, offer, task, least, turns, places, widths[turns, places])


def _unaimed(want: Want) -> bool:
    """Whether a stone may lie any way round."""
    zone = want.zone
    return want.direction is None and (zone is None or (zone.tilt_deg or zone.azimuth_deg) is None)


def _square_to(frames: Sequence[Floats]) -> Floats:
    """The 24 rotations (n, 3, 3) of a stone whose axes lie along each frame's."""
    signed = [
        np.eye(3)[list(order)] * np.array(signs)
        for order in permutations(range(3))
        for signs in product((1.0, -1.0), repeat=3)
    ]
    proper = [one for one in signed if np.linalg.det(one) > 0.0]
    return np.array([frame.T @ one for frame in frames for one in proper])


def thinned(ground: Ground, count: int) -> Ground:
    """The ground with about ``count`` places: the deepest in each cube of a grid."""
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
    """Widths (r, c) on stand-in points, and on walls that are planes exactly."""
    growth = task.growing.growths[0]
    gauges = _against(np.vstack([ground.coarse, task.obstacles]), task, growth, floor)
    if len(task.off_table):
        part = _against(task.off_table, task, growth.under_table, floor)
        gauges = np.minimum(gauges, part)
    for wall in task.walls:
        if isinstance(wall, Planes):
            for normal, offset in zip(wall.normals, wall.offsets, strict=True):
                fixed, pace = _reach(growth, task.rotations, normal)
                room = offset - task.centres @ normal
                gauges = np.minimum(gauges, (room[None] - fixed[:, None]) / pace[:, None])
    return gauges


def _against(points: Floats, task: Task, growth: Growth, floor: float) -> Floats:
    """Widths (r, c) on points (n, 3)."""
    distances = np.linalg.norm(points[None] - task.centres[:, None], axis=2)
    orders = np.argsort(distances, axis=1)
    unit = growth.normals / growth.beta[:, None]
    turned = np.ascontiguousarray(unit @ np.swapaxes(task.rotations, 1, 2))
    corners = (growth.corners0, growth.margin0), (growth.corners1, growth.margin1)
    reach = np.array([np.linalg.norm(c, axis=1).max() + margin for c, margin in corners])
    return gauges_at(  # type: ignore[no-any-return]
        points, task.centres, orders, np.take_along_axis(distances, orders, axis=1), turned,
        growth.alpha / growth.beta, reach, floor, task.ceiling,
    )  # fmt: skip


def _reach(growth: Growth, rotations: Floats, normal: Floats) -> tuple[Floats, Floats]:
    """How far a body with its margin reaches along a unit direction from its origin, at each
    rotation: fixed (r,) + pace (r,)·width."""
    turned = normal @ rotations
    fixed = (turned @ growth.corners0.T).max(axis=1) + growth.margin0
    return fixed, (turned @ growth.corners1.T).max(axis=1) + growth.margin1


def whole(sounding: Sounding) -> RemainingPoses:
    """All poses of a sounding."""
    return RemainingPoses(np.arange(len(sounding.widths)), sounding.widths)
