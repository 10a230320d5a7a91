"""A proven upper bound of the width in rough with hollows, over all turns and places.

The hull's bound (``proof``) counts hollows as rock. Here a node is a cell of rotations and a box of
places; ``kernels.nodes`` bounds the stones in it, each of which lies in the hull and lets no *ball*
in: points of the surface, and of flaws, with the clearance about them. The proof goes level by
level: once every node is infeasible for stones of one size, no stone is as large, and the next
level is a smaller size. A relaxed stone that swallows no known ball is compared with the whole
surface: the places that it swallows there become new balls; where there are none, the level can't
be proved.
"""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from optimizer.design.model import Body
from optimizer.mesh import Floats, Ints
from optimizer.placement.cell_demands import OverCells
from optimizer.placement.cells import Cells, Mask, all_rotations, in_fundamental_zone
from optimizer.placement.containers import Planes
from optimizer.placement.hollows import Hollows, Swallowed
from optimizer.placement.kernels.balls import BITS, Room
from optimizer.placement.kernels.node_rows import UnitStone
from optimizer.placement.kernels.nodes import CHILDREN, Batch, bound_nodes
from optimizer.placement.model import Pose
from optimizer.placement.node_stone import stone_of
from optimizer.placement.proof import ProofTask, extent, tell_bound
from optimizer.placement.search import QUIET, Watch
from optimizer.running.workers import workers

BATCH = 512  # nodes bounded at a time
CHUNK = 32  # nodes that one kernel call bounds
NOTES = 24  # balls that a node keeps notes of
STEP = 0.9  # share of the gap that the first level leaves to the next: a short one is soon proved
LONGEST = 0.3  # step
TURN_MORE = 0.5  # a cell is halved once its longest side moves corners by more than this share
# of the box's longest half side
SMALLEST = 1e-5  # half side of a cell: a smaller node counts as one pose
LOOKS = 16  # relaxed stones of a batch that are compared with the whole surface
OUTWARD = 1e-9  # relative allowance for rounding in what the program is built from


@dataclass(frozen=True)
class HollowProof:
    """No stone is wider than ``bound``; ``nodes`` were bounded. ``closed``: the gap was reached."""

    bound: float
    nodes: int
    closed: bool


@dataclass(frozen=True)
class Nodes:
    """Cells, boxes (n, 3) of the places of the body's middle, greatest sizes (n,), and what
    ``kernels.nodes.Notes`` says: of all stones in the node, so of those in its parts too."""

    cells: Cells
    middles: Floats
    halves: Floats
    highs: Floats
    marks: Ints  # (n, NOTES, 3)
    points: Floats  # (n, NOTES, 3)
    far: Ints  # (n, w) the balls that no stone in the node can swallow, as ``Batch`` has them

    def __len__(self) -> int:
        return len(self.cells)

    def take(self, which: Ints | Mask | slice) -> "Nodes":
        """Some of the nodes."""
        return Nodes(
            self.cells.take(which), self.middles[which], self.halves[which], self.highs[which],
            self.marks[which], self.points[which], self.far[which],
        )  # fmt: skip

    @staticmethod
    def joined(parts: list["Nodes"]) -> "Nodes":
        """All nodes of several, in order."""
        return Nodes(
            Cells.joined([part.cells for part in parts]),
            np.concatenate([part.middles for part in parts]),
            np.concatenate([part.halves for part in parts]),
            np.concatenate([part.highs for part in parts]),
            np.concatenate([part.marks for part in parts]),
            np.concatenate([part.points for part in parts]),
            np.concatenate([part.far for part in parts]),
        )


def prove_hollow(
    body: Body,
    group: Floats,
    hull: Planes,
    hollows: Hollows,
    task: ProofTask,
    demands: OverCells | None = None,
    watch: Watch = QUIET,
) -> HollowProof:
    """Bound the width of any stone of ``body`` within ``hull``, the clearance off, and clear of
    ``hollows``. Any planes of the hull would do, and fewer are quicker.

    ``group``: rotations that map the body onto itself. The task's budget is in nodes. A least
    girdle in mm is left out: the stone without it lies in the true one.
    """
    if demands is not None and demands.break_symmetry:
        group = np.eye(3)[None]
    stone, middle = stone_of(body)
    proving = _Proving(
        stone, middle, group,
        Room(hull.normals, hull.offsets, hollows.balls, hollows.radii,
             hollows.flaws, hollows.voids),
        extent(hull), hollows.swallowed(body), demands, task.found, task.budget, watch,
    )  # fmt: skip
    target, level, step, before = task.target, task.most, STEP, 0
    while level > target:
        below = max(target, task.found + step * (level - task.found))
        done = proving.nodes
        if not proving.closes(below, level * (1.0 + OUTWARD)):
            break
        level, work = below, proving.nodes - done
        step, before = _next_step(step, before, work), work
    bound = min(level * (1.0 + OUTWARD), task.most)
    return HollowProof(bound, proving.nodes, level <= target)


def _next_step(step: float, before: int, work: int) -> float:
    """Each level should cost about twice the last: longer steps where it costs less."""
    if work < 1.5 * before:
        return max(step * step, LONGEST)
    if work > 3.0 * before > 0.0:
        return float(np.sqrt(step))
    return step


@dataclass
class _Proving:
    """What the levels share: the balls found so far, and the work done."""

    stone: UnitStone
    middle: Floats
    group: Floats
    room: Room
    extent: tuple[Floats, Floats]
    swallowed: Swallowed
    demands: OverCells | None
    found: float
    budget: int
    watch: Watch
    nodes: int = 0
    clear: bool = False  # a stone of the level lies clear of all of the surface

    def closes(self, level: float, high: float) -> bool:
        """Whether it is shown that no stone is of size ``level`` or more; none is over ``high``."""
        waiting = [self._everywhere(high)]
        with workers() as pool:
            while waiting:
                if self.nodes >= self.budget or self.watch.stop() or self.clear:
                    return False
                batch = _taken(waiting)
                self.nodes += len(batch)
                tell_bound(self.watch, self.nodes, self.budget, high, self.found)
                waiting += self._children(batch, level, pool)
        return True

    def _everywhere(self, high: float) -> Nodes:
        cells = all_rotations().split()
        cells = self._allowed(cells)[0]
        count, (middle, half) = len(cells), self.extent
        return Nodes(
            cells, np.tile(middle, (count, 1)), np.tile(half, (count, 1)), np.full(count, high),
            np.full((count, NOTES, 3), -1), np.zeros((count, NOTES, 3)),
            np.zeros((count, -(-len(self.room.radii) // BITS)), np.int64),
        )  # fmt: skip

    def _allowed(self, cells: Cells) -> tuple[Cells, Mask]:
        """The cells that may hold a stone's turn, and which of those given they are."""
        rotations, radii = cells.rotations(), cells.radii()
        keep = in_fundamental_zone(rotations, radii, self.group)
        if self.demands is not None:
            keep = keep & self.demands.may_hold(rotations, radii)
        return cells.take(keep), keep

    def _children(self, batch: Nodes, level: float, pool: ThreadPoolExecutor) -> list[Nodes]:
        """What is left of a batch after its bounds: the last to be looked at first."""
        nodes, bounds, choices, poses = self._bounded(batch, level, pool)
        alive = ~(bounds < level)  # NaN counts as feasible
        looked = np.flatnonzero(alive & (poses[:, 12] > 0.0))[:LOOKS]
        for pose in poses[looked]:
            self._look(pose, level)
        by_facet = alive & (choices[:, 0] >= 0)
        rest = alive & ~by_facet
        sides = nodes.cells.half
        turn = nodes.cells.radii() * (sides.max(axis=1) / np.linalg.norm(sides, axis=1))
        turning = turn * self.stone.lengths.max() * level > TURN_MORE * nodes.halves.max(axis=1)
        if np.any(rest & turning & (sides.max(axis=1) < SMALLEST)):
            self.budget = 0  # rounding decides whether this pose is feasible: the proof ends here
        return [
            part
            for part in (
                self._turned(nodes.take(rest & turning)),
                _halved(nodes.take(rest & ~turning)),
                _by_facet(nodes.take(by_facet), choices[by_facet]),
            )
            if len(part)
        ]

    def _bounded(
        self, batch: Nodes, level: float, pool: ThreadPoolExecutor
    ) -> tuple[Nodes, Floats, Ints, Floats]:
        """The nodes with smaller boxes and more notes; bounds, choices and poses of the kernel."""
        count = len(batch)
        rotations, radii, sides = batch.cells.rotations(), batch.cells.radii(), batch.cells.sides()
        extra = np.zeros((count, 0, 5))
        if self.demands is not None:
            corners, lengths = self.stone.corners, self.stone.lengths
            extra = self.demands.rows(rotations, radii, corners, lengths, np.zeros(3))
        asked = Batch(
            rotations, radii, sides, batch.middles.copy(), batch.halves.copy(), batch.highs,
            extra, batch.marks.copy(), batch.points.copy(), batch.far.copy(),
        )  # fmt: skip
        choices, poses = np.full((count, 1 + CHILDREN), -1), np.zeros((count, 13))

        def one(first: int) -> Floats:
            part = slice(first, first + CHUNK)
            some = Batch._make(column[part] for column in asked)
            return bound_nodes(  # type: ignore[no-any-return]
                self.stone, self.room, some, level, choices[part], poses[part]
            )

        bounds = np.concatenate(list(pool.map(one, range(0, count, CHUNK))))
        nodes = replace(
            batch, middles=asked.middles, halves=asked.halves, highs=np.fmin(batch.highs, bounds),
            marks=asked.marks, points=asked.points, far=asked.far,
        )  # fmt: skip
        return nodes, bounds, choices, poses

    def _look(self, pose: Floats, level: float) -> None:
        """Hold a relaxed stone against the whole surface: new balls, or one that lies clear."""
        rotation = pose[3:12].reshape(3, 3)
        found = Pose(level, rotation, pose[:3] - level * rotation @ self.middle)
        balls = self.swallowed(found)
        if not len(balls):
            self.clear = True
            return
        self.room = self.room._replace(
            balls=np.vstack([self.room.balls, balls[:, :3]]),
            radii=np.concatenate([self.room.radii, balls[:, 3]]),
        )

    def _turned(self, nodes: Nodes) -> Nodes:
        """The halves of each node's cell that may hold a stone's turn."""
        cells, keep = self._allowed(nodes.cells.halved())
        children = nodes.take(np.repeat(np.arange(len(nodes)), 2)[keep])
        return replace(children, cells=cells)


def _taken(waiting: list[Nodes]) -> Nodes:
    """The last nodes of those waiting, BATCH at most."""
    parts, count = [], 0
    while waiting and count < BATCH:
        part = waiting.pop()
        room = BATCH - count
        if len(part) > room:
            waiting.append(part.take(slice(0, len(part) - room)))
            part = part.take(slice(len(part) - room, len(part)))
        parts.append(part)
        count += len(part)
    return Nodes.joined(parts)


def _halved(nodes: Nodes) -> Nodes:
    """The two halves of each node's box, across its longest side."""
    count = len(nodes)
    rows, axis = np.arange(count), np.argmax(nodes.halves, axis=1)
    halves = nodes.halves.copy()
    halves[rows, axis] /= 2.0
    step = np.zeros((count, 3))
    step[rows, axis] = halves[rows, axis]
    parts = [replace(nodes, middles=nodes.middles + sign * step, halves=halves) for sign in (-1, 1)]
    return Nodes.joined(parts)


def _by_facet(nodes: Nodes, choices: Ints) -> Nodes:
    """A child of each node for each facet that may keep the chosen ball off."""
    node, place = np.nonzero(choices[:, 1:] >= 0)
    children = nodes.take(node)
    marks = children.marks.copy()
    marks[np.arange(len(node)), choices[node, 0], 2] = choices[node, 1 + place]
    return replace(children, marks=marks)
