"""A proven upper bound of the width, by branch and bound over all rotations.

Each cell of rotations (``cells``) has a linear program whose value no copy with a rotation in the
cell passes (``cell_bounds``: second order in the cell's size); shift and size are its
unknowns. Cells that cannot beat the incumbent are dropped, the others split, until what is left
is within the gap asked for or the budget is spent. The stone is held by the planes of the rough's
convex hull, the skin taken off; any of the planes alone would do, so only those that matter are
used: a few to start with, then those that the best cells' stones stick out of.
"""

from dataclasses import dataclass, replace

import numpy as np

from optimizer.mesh import Floats, Ints
from optimizer.placement.cell_demands import OverCells
from optimizer.placement.cells import Cells, all_rotations, in_fundamental_zone
from optimizer.placement.containers import Planes
from optimizer.placement.kernels.cells import cell_bounds
from optimizer.placement.search import QUIET, Watch
from optimizer.running.workers import workers

BATCH = 512  # cells split at a time, the most promising first, at most
FEWEST = 64  # and at least, where the budget has room for their parts
SHARE = 8  # of the cells waiting: one in so many is split at a time
CHUNK = 64  # cells that one kernel call bounds
FIRST_PLANES = 96
NEW_PLANES = 24  # at most, after each batch
SMALLEST = 2e-4  # half a cell: its bound is good to 1e-7, and what is left is the hull's own
MOST_CELLS = 5_000_000  # the budget of a proof that the user asks for: minutes
SHOWN_PERCENT = 100.0  # progress leaves out a bound of more than twice the weight found
ROUNDING = 1e-9  # relative: the bound is raised by this for the rounding of its inputs


@dataclass(frozen=True)
class ProofTask:
    """What a proof begins with, and when it ends."""

    found: float  # a size known to fit, 0 where none is
    most: float  # no copy is larger: a bound known already
    gap: float  # relative to ``found``: a bound as near as this is enough
    budget: int  # cells or nodes to bound at most

    @property
    def target(self) -> float:
        """The bound that is low enough."""
        return self.found * (1.0 + self.gap)


@dataclass(frozen=True)
class Proof:
    """What branch and bound has shown: no copy of the body is larger than ``bound``."""

    bound: float
    cells: int  # how many were bounded
    closed: bool  # whether the gap asked for was reached
    planes: Ints  # numbers of the planes in use: those that matter, and some far apart


def prove(
    corners: Floats,
    group: Floats,
    room: Planes,
    task: ProofTask,
    demands: OverCells | None = None,
    watch: Watch = QUIET,
) -> Proof:
    """Bound the size s of any rotated, shifted copy of ``corners`` (k, 3) inside ``room``; the
    task's budget is in cells.

    ``group``: the body's rotations onto itself, of which one of each orbit is searched where no
    demand tells them apart.
    """
    if demands is not None and demands.break_symmetry:
        group = np.eye(3)[None]
    program = _Program.of(corners, room, task.most, demands)
    found, target, budget = task.found, task.target, task.budget
    cells = all_rotations()
    for _ in range(2):
        cells = cells.split()
    bounds = np.full(len(cells), task.most)
    done = 0
    while len(cells) and bounds.max() > target and done < budget and not watch.stop():
        tell_bound(watch, done, budget, float(bounds.max()), found)
        order = np.argsort(-bounds, kind="stable")
        if cells.half[order[0]].max() < SMALLEST:
            break
        batch = min(max(FEWEST, len(cells) // SHARE), BATCH, -(-(budget - done) // 8))
        batch = min(batch, int(np.count_nonzero(bounds > target)))
        chosen, kept = order[:batch], order[batch:]
        children = cells.take(chosen).split()
        above = np.repeat(bounds[chosen], 8)
        children, above = _possible(children, above, group, demands)
        new, places, sizes = program.bound(children)
        done += len(children)
        new = np.minimum(new, above)
        program = program.with_planes_missed(children, new, places, sizes)
        cells = Cells.joined([cells.take(kept), children])
        bounds = np.concatenate([bounds[kept], new])
        alive = bounds > found
        cells, bounds = cells.take(alive), bounds[alive]
    highest = float(bounds.max()) if len(cells) else found
    bound = min(task.most, max(found, highest) * (1.0 + ROUNDING))
    return Proof(bound, done, highest <= target, program.used)


def tell_bound(watch: Watch, done: int, budget: int, bound: float, found: float) -> None:
    """Show as progress how much heavier than the stone found a stone may be at most."""
    more = 100.0 * ((bound / found) ** 3 - 1.0) if found > 0.0 else np.inf
    stage = "proving how heavy a stone can be at most"
    if more <= SHOWN_PERCENT:
        stage += f", now {more:.1f} % above the best so far"
    watch.progress(stage, done, budget, 0.0)


def _possible(
    cells: Cells,
    bounds: Floats,
    group: Floats,
    demands: OverCells | None,
) -> tuple[Cells, Floats]:
    rotations, radii = cells.rotations(), cells.radii()
    keep = in_fundamental_zone(rotations, radii, group)
    if demands is not None:
        keep = keep & demands.may_hold(rotations, radii)
    return cells.take(keep), bounds[keep]


@dataclass(frozen=True)
class _Program:
    """The linear programs' common part, about the body's middle."""

    corners: Floats  # (k, 3) about the middle of the ball around them
    lengths: Floats  # (k,)
    room: Planes  # every plane, about the room's own middle
    used: Ints  # numbers of the planes in use
    middle: Floats  # (3,) of the room
    reach: Floats  # (7,) bounds of |t|, s, |u|
    demands: OverCells | None

    @staticmethod
    def of(corners: Floats, room: Planes, most: float, demands: OverCells | None) -> "_Program":
        corners = np.ascontiguousarray(corners - ball_middle(corners))
        lengths = np.linalg.norm(corners, axis=1) * (1.0 + 1e-15)
        middle, size = extent(room)
        room = Planes(room.normals, room.offsets - room.normals @ middle)
        reach = np.array([*size, most, *([10.0 * most] * 3)])
        first = room.far_apart(FIRST_PLANES)
        return _Program(corners, lengths, room, first, middle, reach, demands)

    def bound(self, cells: Cells) -> tuple[Floats, Floats, Floats]:
        """Bounds (n,), places (n, 3) and sizes (n,) of the cells' linear programs."""
        rotations, radii, sides = cells.rotations(), cells.radii(), cells.sides()
        normals = np.ascontiguousarray(self.room.normals[self.used])
        offsets = np.ascontiguousarray(self.room.offsets[self.used])
        extra = np.zeros((len(cells), 0, 5))
        if self.demands is not None:
            extra = self.demands.rows(rotations, radii, self.corners, self.lengths, self.middle)

        def one(first: int) -> tuple[Floats, Floats, Floats]:
            part = slice(first, first + CHUNK)
            return cell_bounds(  # type: ignore[no-any-return]
                normals, offsets, self.corners, self.lengths, rotations[part], radii[part],
                sides[part], self.reach, extra[part],
            )  # fmt: skip

        with workers() as pool:
            parts = list(pool.map(one, range(0, len(cells), CHUNK)))
        if not parts:
            return np.empty(0), np.empty((0, 3)), np.empty(0)
        bounds, places, sizes = (np.concatenate(column) for column in zip(*parts, strict=True))
        return bounds, places, sizes

    def with_planes_missed(
        self, cells: Cells, bounds: Floats, places: Floats, sizes: Floats
    ) -> "_Program":
        """Take into use the planes that the most promising cells' stones stick out of most."""
        best = np.argsort(-bounds, kind="stable")[:NEW_PLANES]
        rotations = cells.take(best).rotations()
        missed: list[int] = []
        for rotation, place, size in zip(rotations, places[best], sizes[best], strict=True):
            out = self.room.normals @ place - self.room.offsets
            out += (self.room.normals @ (size * rotation @ self.corners.T)).max(axis=1)
            out[self.used] = -np.inf
            out[missed] = -np.inf
            worst = int(np.argmax(out))
            if out[worst] > 0.0:
                missed.append(worst)
        if not missed:
            return self
        used = np.concatenate([self.used, np.array(missed, np.int64)])
        return replace(self, used=used)


def extent(room: Planes) -> tuple[Floats, Floats]:
    """Middle (3,) and half size (3,), rounded outwards, of the room's own box."""
    from scipy.optimize import linprog

    free = [(None, None)] * 3
    ends = np.array(
        [
            [
                sign * linprog(sign * axis, A_ub=room.normals, b_ub=room.offsets, bounds=free).fun
                for axis in np.eye(3)
            ]
            for sign in (1.0, -1.0)
        ]
    )
    return ends.mean(axis=0), (ends[1] - ends[0]) / 2.0 * (1.0 + 1e-6) + 1e-9


def ball_middle(points: Floats) -> Floats:
    """About the middle of the smallest ball around points: any middle is sound, this one tight.

    Bădoiu and Clarkson's steps towards the farthest point (2003).
    """
    middle = points.mean(axis=0)
    for step in range(1, 2000):
        farthest = points[int(np.argmax(((points - middle) ** 2).sum(axis=1)))]
        middle = middle + (farthest - middle) / (step + 1.0)
    return np.asarray(middle)
