"""One stone more in a division that has no room left for it: inserted at its least width, overlaps
and all, whereupon all stones and cuts make room for it together or the insertion fails."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.placement.model import Placement, Pose
from optimizer.running.workers import workers
from optimizer.several.greedy import Placer, Slot, grown, open_wishes
from optimizer.several.instance import Search
from optimizer.several.model import Division, PlacedStone
from optimizer.several.pose_grids import PoseGrid
from optimizer.several.refine import refine


@dataclass(frozen=True)
class _Insertion:
    """A stone of a grid in a slot, narrower than ordered there, and its share of that width."""

    slot: Slot
    grid: PoseGrid
    share: float


def with_insertion(
    search: Search, grids: Sequence[PoseGrid], division: Division, count: int
) -> list[Division]:
    """The division with one stone more, refined, in those of ``count`` ways in which there is room
    for it: those that leave it the greatest share of its least width, each beside another stone or
    of another design."""
    instance, placer = search.instance, Placer(search, grids)
    wanted = open_wishes(instance.wishes, division, set())
    found = [
        _Insertion(slot, grid, width / max(grid.offer.want.width_mm[0], grid.least))
        for slot in placer.first_slots(division, None)
        for grid, width in zip(grids, slot.widths, strict=True)
        if width and grid.wish in wanted and instance.wishes[grid.wish].pair_mm is None
    ]
    best: dict[tuple[int | None, str], _Insertion] = {}
    for one in sorted(found, key=lambda one: -one.share):
        best.setdefault((one.slot.beside, one.grid.offer.design.name), one)

    def made(one: _Insertion) -> Division | None:
        start = _inserted(search, division, one)
        return refine(instance, start, effort=search.effort, watch=search.watch)

    with workers() as threads:
        return [one for one in threads.map(made, list(best.values())[:count]) if one is not None]


def _inserted(search: Search, division: Division, one: _Insertion) -> Division:
    """The stone in its slot, at least as wide as ordered, so that it may overlap its cuts."""
    grid, ground = one.grid, search.instance.ground
    left = grid.within([ground.plane(wall) for wall in one.slot.walls])
    pose = int(left.poses[np.argmax(left.widths)])
    width = max(grid.offer.want.width_mm[0], float(left.widths.max()))
    own = Pose(width, *grid.pose(pose))
    placement = Placement(grid.offer.want.body, ground.scan_pose(own), 0.0)
    return grown(division, one.slot, PlacedStone(grid.wish, grid.offer, placement))
