"""Layouts from which a division may come: stones amid their cuts, some of them still too large.

Bricks lie as the dynamic program over guillotine cuts has them (``guillotine.py``), in the block
that holds the rough. In a second kind of layout every other stone of a row is turned half round,
and the row is as long as stones laid so head to tail need. ``squeeze.py`` makes divisions of them.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np

from optimizer.mesh import Floats, Plane
from optimizer.placement.model import Placement, Pose
from optimizer.several.cut_tree import CutTree
from optimizer.several.frames import frames_of
from optimizer.several.guillotine import Block, Brick, best_block, counted
from optimizer.several.instance import Instance, Search
from optimizer.several.joint_problem import in_scan_frame
from optimizer.several.model import Division, PlacedStone, Wish, allowance_mm
from optimizer.several.pose_grids import PoseGrid, unoriented
from optimizer.several.sizes import sizes_of

SIZES = 120  # of bricks, at most: of every grid, price and position
HALF_TURNS = tuple(np.diag(signs) for signs in ((1.0, -1, -1), (-1.0, 1, -1), (-1.0, -1, 1)))
LEANS = np.radians(np.arange(-50.0, 51.0))  # of cuts between stones of a row
GAIN = 0.995  # of a brick's own edge: head to tail pays from here on
PRICINGS, CHEAPER = 8, 0.85  # of bricks of which there are too many


@dataclass(frozen=True, eq=False)
class Laid:
    """One way to lay a stone of one size: turned square to a frame, with the half turns by which
    its next in a row along each axis takes least room."""

    grid: PoseGrid
    width: float
    turn: Floats  # (3, 3) stone to frame
    flips: tuple[Floats, ...]  # (3, 3) of every other stone, for rows along each axis
    pitches: Floats  # (3,) from one stone to the next along each axis, without the cut's share
    worth: float

    @property
    def edges(self) -> Floats:
        """The extents (3,) along the frame."""
        corners = self.grid.offer.want.body.vertices_at(self.width) @ self.turn.T
        return np.asarray(np.ptp(corners, axis=0))


def brick_layouts(
    search: Search, grids: Sequence[PoseGrid]
) -> tuple[list[Division], list[Division]]:
    """(bricks, rows head to tail) in every frame of the rough, most worth first. Rows promise more
    than bricks do, and often don't hold it."""
    instance = search.instance
    found: tuple[list[Division], list[Division]] = ([], [])
    gap = allowance_mm(instance.workshop)
    for frame in frames_of(search.rough, instance.ground):
        laid = _laid(instance, grids, gap)
        heights = instance.ground.mesh.vertices @ frame.T
        skin = min((one.grid.skin_mm for one in laid), default=0.0)
        low, high = heights.min(axis=0) + skin - gap, heights.max(axis=0) - skin + gap
        for along in (None, 0, 1, 2):
            for block in _blocks(instance.wishes, laid, high - low, along, gap):
                layout = _Layout(instance, frame, laid, along).division(block, low, high)
                found[along is not None].append(layout)
    bricks, rows = (_best_first(instance, some) for some in found)
    return bricks, rows


def _best_first(instance: Instance, found: Sequence[Division]) -> list[Division]:
    """Layouts that differ in number or worth, most worth first."""
    worth = instance.division_worth
    distinct = {(len(one.stones), round(worth(one), 6)): one for one in reversed(found)}
    return sorted(distinct.values(), key=lambda one: -worth(one))


def _laid(instance: Instance, grids: Sequence[PoseGrid], gap: float) -> list[Laid]:
    """Every size of every grid in every position square to a frame."""
    made = []
    for grid in grids:
        want = grid.offer.want
        if not unoriented(want):
            continue
        for width in sizes_of(instance, grid):
            corners, seen = want.body.vertices_at(width), set()
            for order in permutations(range(3)):
                turn = np.eye(3)[list(order)]
                turn[0] *= np.linalg.det(turn)
                own = corners @ turn.T
                edges = tuple(np.ptp(own, axis=0).round(6))
                if edges not in seen:
                    seen.add(edges)
                    rows = [_row(own, axis, 2.0 * gap) for axis in range(3)]
                    made.append(
                        Laid(
                            grid, width, turn, tuple(flip for flip, _ in rows),
                            np.array([pitch for _, pitch in rows]),
                            instance.offer_worth(grid.offer, width),
                        )
                    )  # fmt: skip
    made.sort(key=lambda one: -one.worth)
    return made[:SIZES]


def _row(corners: Floats, axis: int, apart: float) -> tuple[Floats, float]:
    """The half turn of every other stone that makes a row along an axis shortest, and how far
    apart its stones are then on average, less ``apart``."""
    across = [np.eye(3)[a] for a in range(3) if a != axis]
    ways = np.vstack(
        [np.outer(np.cos(LEANS), np.eye(3)[axis]) + np.outer(np.sin(LEANS), a) for a in across]
    )
    steep = ways[:, axis]
    middle = (corners.max(axis=0) + corners.min(axis=0)) / 2.0
    own = corners - middle

    def pitch(flip: Floats) -> float:
        other = own @ flip.T
        reach = [((c @ way.T).max(axis=0)) for c in (own, other) for way in (ways, -ways)]
        there = ((reach[0] + reach[3] + apart) / steep).min()
        back = ((reach[2] + reach[1] + apart) / steep).min()
        return float(there + back) / 2.0 - apart

    pitches = [pitch(flip) for flip in HALF_TURNS]
    best = int(np.argmin(np.round(pitches, 9)))
    return HALF_TURNS[best], pitches[best]


def _blocks(
    wishes: Sequence[Wish], laid: Sequence[Laid], room: Floats, along: int | None, gap: float
) -> Iterator[Block]:
    """The best blocks, of as many bricks as pay; and with the prices of wishes lowered of which
    there were too many stones."""
    edges = np.array([one.edges for one in laid]).reshape(-1, 3)
    if along is not None and len(laid):
        shorter = np.array([one.pitches[along] for one in laid])
        if not (shorter < GAIN * edges[:, along]).any():
            return
        least = np.minimum(edges[:, along], shorter)
        room = room.copy()
        room[along] -= float((edges[:, along] - least).min())
        edges[:, along] = least
    factors = np.ones(len(wishes))
    for _ in range(PRICINGS):
        bricks = [
            Brick(one.grid.wish, tuple(edge + 2.0 * gap), one.worth * factors[one.grid.wish])
            for one, edge in zip(laid, edges, strict=True)
        ]
        block = best_block(room, bricks)
        if block is None:
            return
        yield block
        counts = counted(block, bricks, len(wishes))
        too_many = counts > [wish.most for wish in wishes]
        if len(wishes) == 1 or not too_many.any():
            return
        factors[too_many] *= CHEAPER


@dataclass(frozen=True)
class _Layout:
    """A block of bricks becomes a division in the scan frame."""

    instance: Instance
    frame: Floats  # (3, 3) rows: the block's axes, ground's frame
    laid: Sequence[Laid]
    along: int | None  # the axis of rows in which every other stone is turned

    def division(self, block: Block, low: Floats, high: Floats) -> Division:
        """The block between two corners, what room is left shared out evenly."""
        cells: list[tuple[Laid, Floats, Floats]] = []
        tree = self._tree(block, low, high, cells)
        flipped = self._every_other(cells)
        stones = [self._stone(*cell, flip) for cell, flip in zip(cells, flipped, strict=True)]
        return Division(tuple(stones), tree)

    def _tree(
        self, block: Block, low: Floats, high: Floats, cells: list[tuple[Laid, Floats, Floats]]
    ) -> CutTree | int:
        if block.parts is None:
            assert block.brick is not None
            cells.append((self.laid[block.brick], low, high))
            return len(cells) - 1
        axis, (one, other) = block.axis, block.parts
        share = one.edges[axis] / (one.edges[axis] + other.edges[axis])
        middle = low[axis] + share * (high[axis] - low[axis])
        below, above = high.copy(), low.copy()
        below[axis] = above[axis] = middle
        plane = in_scan_frame(self.instance.ground, Plane(self.frame[axis], float(middle)))
        branches = self._tree(one, low, below, cells), self._tree(other, above, high, cells)
        return CutTree(plane, *branches)

    def _every_other(self, cells: Sequence[tuple[Laid, Floats, Floats]]) -> list[bool]:
        """Whether each stone is the second, the fourth and so on of its row."""
        if self.along is None:
            return [False] * len(cells)
        lows = np.array([low for _, low, _ in cells])
        rows = np.delete(lows, self.along, axis=1).round(2)
        rank = [
            int(((rows == rows[k]).all(axis=1) & (lows[:, self.along] < lows[k, self.along])).sum())
            for k in range(len(cells))
        ]
        return [number % 2 == 1 for number in rank]

    def _stone(self, laid: Laid, low: Floats, high: Floats, flipped: bool) -> PlacedStone:
        turn = laid.turn
        if flipped and self.along is not None:
            turn = laid.flips[self.along] @ turn
        offer, ground = laid.grid.offer, self.instance.ground
        corners = offer.want.body.vertices_at(laid.width) @ turn.T
        at = (low + high - corners.max(axis=0) - corners.min(axis=0)) / 2.0
        rotation = np.ascontiguousarray(self.frame.T @ turn)
        pose = ground.scan_pose(Pose(laid.width, rotation, self.frame.T @ at))
        return PlacedStone(laid.grid.wish, offer, Placement(offer.want.body, pose, 0.0))


def trimmed(instance: Instance, division: Division, most: int) -> Division:
    """The division without the stones that are more than wanted, those of least worth first."""
    worths = [instance.worth_at(s, s.placement.pose.width) for s in division.stones]
    left = [wish.most for wish in instance.wishes]
    kept: list[int] = []
    for number in map(int, np.argsort(np.negative(worths), kind="stable")):
        wish = division.stones[number].wish
        if left[wish] and len(kept) < most:
            left[wish] -= 1
            kept.append(number)
    return without_all(division, set(range(len(worths))) - set(kept))


def without_all(division: Division, gone: set[int]) -> Division:
    """The division without several stones; one at least must stay."""
    for number in sorted(gone, reverse=True):
        division = division.without(number)
    return division
