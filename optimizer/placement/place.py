"""Lay one body in the rough as an order asks: as large as it goes, or with most clearance."""

from dataclasses import dataclass, replace

import numpy as np

from optimizer.design.model import Body
from optimizer.mesh import Floats, Plane
from optimizer.order import Range, ZoneDemand
from optimizer.placement.climb import State
from optimizer.placement.colour_room import ColourRoom
from optimizer.placement.containers import Container, Planes
from optimizer.placement.demands import Demand, whole_side, zone_demands
from optimizer.placement.direction import Direction
from optimizer.placement.distance import distance_to_surface
from optimizer.placement.flaws import depths_beside, flaw_spots, flaw_walls
from optimizer.placement.ground import Ground, spread
from optimizer.placement.growing import Growing, growing_by_clearance, growing_by_width
from optimizer.placement.model import BOUNDARY, FLAW, Placement, Pose
from optimizer.placement.rotations import aimed_rotations
from optimizer.placement.search import EFFORTS, Effort, Task, Watch, even_starts, search
from optimizer.placement.shown import Shown
from optimizer.placement.walled import sawn_walls, walled
from optimizer.rough.model import Flaw

MORE_CENTRES = 4  # beside flaws: they leave more, smaller rooms, and stones lie off their middles


@dataclass(frozen=True)
class Want:
    """What is asked of one body, in the scan frame."""

    body: Body
    width_mm: Range  # window of the finished width; equal ends: one fixed size
    skin_mm: float  # least distance from the finished stone to the surface
    zone: ZoneDemand | None = None
    boundary: Plane | None = None  # the zone's plane, normal towards the named colour
    flaws: tuple[Flaw, ...] = ()
    direction: Direction | None = None
    room: ColourRoom | None = None  # where the zone's boundary is no plane
    shown: Shown | None = None  # of the face, near where the stone lies
    walls: tuple[Plane, ...] = ()  # planes that the finished stone stays below, as saw cuts leave

    @property
    def solids(self) -> tuple[Flaw, ...]:
        """What the stone keeps out of: the room of another colour, if any, and then the flaws."""
        room = () if self.room is None or self.room.solid is None else (self.room.solid,)
        return (*room, *self.flaws)


@dataclass(frozen=True)
class Wall:
    """What a stone keeps from beside the rough's surface, and what that is."""

    kind: str  # BOUNDARY | FLAW
    name: str
    container: Container  # in the ground's frame
    solid: Flaw | None = None  # what the container was made of, scan frame; None for planes

    def farther(self, ground: Ground, skin_mm: float, step_mm: float) -> Container:
        """The container a step farther off."""
        if self.solid is None:
            assert isinstance(self.container, Planes)
            return replace(self.container, offsets=self.container.offsets + step_mm)
        least = -self.solid.radius_mm  # of a clearance: the solid shrinks no further than its core
        clearance = max(least, self.solid.clearance_mm - step_mm)
        nearer = replace(self.solid, clearance_mm=clearance)
        return flaw_walls(ground, [nearer], skin_mm)[0]


def place(ground: Ground, want: Want, *, effort: str, seed: int, watch: Watch) -> Placement | None:
    """The best placement found, exact on the whole surface; None where none was found.

    A size window is filled as far as it goes; at its upper end, and for a fixed size, the stone
    lies where its clearance is greatest.
    """
    ground = walled(ground, want.walls, want.skin_mm)
    low, high = want.width_mm
    best: State | None = None
    if low < high:
        best = _largest(ground, want, EFFORTS[effort], seed, watch)
        if best is None or best.sigma < low:
            return None
    if best is None or best.sigma >= high:
        roomy = roomiest(ground, want, EFFORTS[effort], seed, watch)
        best = roomy or best
    return None if best is None else as_placement(ground, want, best)


def _largest(ground: Ground, want: Want, effort: Effort, seed: int, watch: Watch) -> State | None:
    low, high = want.width_mm
    growing = growing_by_width(want.body, want.skin_mm, low)
    return _first_met(
        search(ground, directed_task(ground, want, growing, high, effort, seed), effort, watch)
    )


def roomiest(ground: Ground, want: Want, effort: Effort, seed: int, watch: Watch) -> State | None:
    """The state at the window's upper end with the greatest clearance; σ is the width again."""
    width = want.width_mm[1]
    growing = growing_by_clearance(want.body, width)
    task = directed_task(ground, want, growing, np.inf, effort, seed)
    state = _first_met(search(ground, task, effort, watch))
    if state is None or state.sigma < want.skin_mm:
        return None
    return replace(state, sigma=width)


def _first_met(states: list[State]) -> State | None:
    return next((s for s in states if s.met), None)


def directed_task(
    ground: Ground, want: Want, growing: Growing, ceiling: float, effort: Effort, seed: int
) -> Task:
    """The task with the limits on the crystal's directions; starts are aimed at what is tighter,
    these or the zone's, and the climb meets the other."""
    least = want.width_mm[0] if growing.fixed_width is None else want.skin_mm
    task = replace(_task(ground, want, growing, ceiling, effort, seed), least=least)
    if want.direction is None or want.direction.share >= _zone_share(want.zone):
        return task
    direction = want.direction.in_frame(ground.ground2scan)
    return replace(task, rotations=direction.rotations(effort.rotations, seed))


def _zone_share(zone: ZoneDemand | None) -> float:
    """Share of all directions that a zone's tilt and azimuth allow."""
    if zone is None:
        return 1.0
    low, high = np.sin(np.radians(zone.tilt_deg or (-90.0, 90.0)))
    start, end = zone.azimuth_deg or (-180.0, 180.0)
    return float((high - low) / 2.0 * (end - start) / 360.0)


def _task(
    ground: Ground, want: Want, growing: Growing, ceiling: float, effort: Effort, seed: int
) -> Task:
    """Turn flaws and the order's zone into walls, demands and starts in the ground's own frame."""
    count = effort.centres * (MORE_CENTRES if want.solids else 1)
    outside = [flaw for flaw in want.solids if not flaw.off_table]
    spots = flaw_spots(ground, outside)
    off_table = flaw_spots(ground, [flaw for flaw in want.flaws if flaw.off_table])
    depths = depths_beside(ground, outside, want.skin_mm)
    walls, demands = walls_of(ground, want), demands_of(ground, want)
    if want.zone is None or want.boundary is None:
        rotations = even_starts(effort.rotations, want.body.rotations, seed)
        places = ground.places
        if want.room is not None:
            places, depths = want.room.within(ground, depths)
        centres = spread(places, depths, count)
        return Task(growing, walls, demands, rotations, centres, ceiling, spots, off_table)
    boundary = ground.plane(want.boundary)
    rotations = _zone_rotations(want, boundary, effort, seed)
    centres = _zone_centres(ground.places, depths, want.zone, boundary, count)
    return Task(growing, walls, demands, rotations, centres, ceiling, spots, off_table)


def walls_of(ground: Ground, want: Want) -> tuple[Container, ...]:
    """The containers of ``named_walls``, then those of saw cuts; the ground's frame."""
    named = tuple(wall.container for wall in named_walls(ground, want))
    return named + sawn_walls(ground, want.walls, want.skin_mm)


def named_walls(ground: Ground, want: Want) -> tuple[Wall, ...]:
    """The boundary's wall, where there is one, then one for each of the ``want.solids``."""
    planes: tuple[Planes, ...] = ()
    name, colour = "", None
    if want.room is not None:
        name, colour = want.room.name, want.room.solid
        planes = want.room.walls(ground, want.skin_mm)
    elif want.zone is not None and want.boundary is not None:
        name = want.zone.name
        planes = zone_walls(want.zone, ground.plane(want.boundary), want.skin_mm)
    solids = zip(want.solids, flaw_walls(ground, want.solids, want.skin_mm), strict=True)
    return (
        *(Wall(BOUNDARY, name, wall) for wall in planes),
        *(Wall(BOUNDARY if s is colour else FLAW, s.name, wall, s) for s, wall in solids),
    )


def demands_of(ground: Ground, want: Want) -> tuple[Demand, ...]:
    """What is asked of the boundary and of the crystal's directions, in the ground's frame."""
    zone: tuple[Demand, ...] = ()
    if want.zone is not None and want.boundary is not None:
        boundary = ground.plane(want.boundary)
        zone = zone_demands(want.zone, boundary)
        if want.shown is not None:
            zone += want.shown.demands(boundary)
    if want.room is not None:
        zone = want.room.demands(ground)
    if want.direction is None:
        return zone
    return (*zone, *want.direction.in_frame(ground.ground2scan).demands())


def zone_walls(zone: ZoneDemand, boundary: Plane, skin_mm: float) -> tuple[Planes, ...]:
    """The boundary as a wall, where the stone must not cross it.

    The stone's skin, which every container adds, is taken off: it is no allowance here.
    """
    if zone.keep_clear_mm is not None:
        return (_wall(boundary, zone.keep_clear_mm - skin_mm),)
    side = whole_side(zone)
    if side is None:
        return ()
    return (_wall(boundary if side > 0.0 else boundary.flipped(), -skin_mm),)


def _wall(boundary: Plane, above_mm: float) -> Planes:
    """The side of the boundary to which its normal points, from ``above_mm`` on."""
    return Planes(-boundary.normal[None, :], np.array([-boundary.offset - above_mm]))


def _zone_rotations(want: Want, boundary: Plane, effort: Effort, seed: int) -> Floats:
    zone = want.zone
    assert zone is not None
    if zone.tilt_deg is None and zone.azimuth_deg is None:
        return even_starts(effort.rotations, want.body.rotations, seed)
    tilt = zone.tilt_deg or (-90.0, 90.0)
    azimuth = zone.azimuth_deg or (-180.0, 180.0)
    return aimed_rotations(
        boundary.normal,
        (np.radians(tilt[0]), np.radians(tilt[1])),
        (np.radians(azimuth[0]), np.radians(azimuth[1])),
        effort.rotations,
        seed,
    )


def _zone_centres(
    places: Floats, depths: Floats, zone: ZoneDemand, boundary: Plane, count: int
) -> Floats:
    height = places @ boundary.normal - boundary.offset
    unzoned = depths
    side = 1.0 if zone.keep_clear_mm is not None else whole_side(zone)
    if side is not None:
        depths = np.minimum(depths, side * height - (zone.keep_clear_mm or 0.0))
    elif zone.offset is not None or zone.share_percent is not None:
        depths = depths - np.abs(height)
    inside = depths > 0.0
    if not np.any(inside):
        return spread(places, unzoned, count)
    return spread(places[inside], depths[inside], count)


def as_placement(ground: Ground, want: Want, state: State) -> Placement:
    """Back to the scan frame, with the exact clearance."""
    pose = Pose(state.sigma, state.rotation, state.translation)
    clearance = distance_to_surface(want.body, pose, ground.surface)
    return Placement(want.body, ground.scan_pose(pose), clearance)
