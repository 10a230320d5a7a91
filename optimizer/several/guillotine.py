"""The best bricks that guillotine cuts can free from a block: a dynamic program over sums of edges.

Gilmore and Gomory, The theory and computation of knapsack functions, Operations Research 14 (1966).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats, Ints
from optimizer.several.kernels.guillotine import best_cuts

SUMS = 1000  # of edges along one axis, at most; of more, an even choice
STEPS = 5e7  # of the program, at most; with more, it makes do with fewer places of cuts
MARKS = 60  # places of cuts along an edge, where even raster points are too many: an even choice
ROUNDING = 1e-7  # mm: a brick that is this much too long still fits
PRICINGS = 12  # of bricks of which there are too many or too few


@dataclass(frozen=True)
class Brick:
    """A brick: what it belongs to, its edges along the block's axes with their share of the cuts,
    and what it is worth."""

    kind: int
    edges: tuple[float, float, float]
    worth: float


@dataclass(frozen=True)
class Block:
    """A block as it is cut: into two blocks along an axis, or it is a single brick (its number)."""

    edges: tuple[float, ...]  # the least that hold what is in it
    brick: int | None
    axis: int = 0
    parts: "tuple[Block, Block] | None" = None


def best_block(room: Floats, bricks: Sequence[Brick]) -> Block | None:
    """The block of most worth in a room (3,), of any number of each brick; None where none fits."""
    edges = np.array([brick.edges for brick in bricks])
    if not len(edges) or not (edges <= room + ROUNDING).all(axis=1).any():
        return None
    marks = _marks(room, edges)
    most = max(map(len, marks))
    rests, halves = np.zeros((3, most, most), np.int64), np.zeros((3, most), np.int64)
    for axis, own in enumerate(marks):
        left = own[:, None] - own + ROUNDING
        rests[axis, : len(own), : len(own)] = np.searchsorted(own, left, "right") - 1
        halves[axis, : len(own)] = np.searchsorted(own, own / 2.0 + ROUNDING, "right") - 1
        rests[axis, 0, 0] = len(own)
    first = np.column_stack(
        [np.searchsorted(own, edges[:, axis] - ROUNDING) for axis, own in enumerate(marks)]
    )
    worths = np.array([brick.worth for brick in bricks])
    _, choice = best_cuts(rests, np.ascontiguousarray(first), worths, halves)
    return _block(choice, rests, bricks, tuple(len(own) - 1 for own in marks))


def counted(block: Block | None, bricks: Sequence[Brick], kinds: int) -> Ints:
    """How many bricks of each kind (kinds,) a block holds."""
    found = () if block is None else leaves(block)
    return np.bincount([bricks[leaf].kind for leaf in found], minlength=kinds)


def leaves(block: Block) -> Iterator[int]:
    """The bricks of a block, in the order of its cuts."""
    if block.brick is not None:
        yield block.brick
    for part in block.parts or ():
        yield from leaves(part)


def _marks(room: Floats, edges: Floats) -> list[Floats]:
    """Places of cuts along each axis, from 0 on, rising: all sums of edges; where that makes too
    many steps, their raster points (Scheithauer and Terno 1996); else an even choice of these."""
    sums = [_sums(float(room[axis]), edges[:, axis]) for axis in range(3)]
    if _steps(sums, len(edges)) <= STEPS:
        return sums
    raster = [_raster_points(float(own), some) for own, some in zip(room, sums, strict=True)]
    if _steps(raster, len(edges)) <= STEPS:
        return raster
    return [_evenly(some, MARKS) for some in raster]


def _steps(marks: Sequence[Floats], bricks: int) -> float:
    """How many cuts and bricks the program compares."""
    counts = np.array([len(own) for own in marks], float)
    return float(counts.prod() * (counts.sum() / 2.0 + bricks))


def _raster_points(room: float, sums: Floats) -> Floats:
    """For each sum, the greatest that fits beside it."""
    beside = np.searchsorted(sums, room - sums + ROUNDING, "right") - 1
    return np.unique(np.append(sums[beside], 0.0))


def _evenly(marks: Floats, count: int) -> Floats:
    """An even choice of marks, the first and the last with them."""
    if len(marks) <= count:
        return marks
    return np.asarray(marks[np.linspace(0, len(marks) - 1, count).astype(int)])


def _sums(room: float, edges: Floats) -> Floats:
    """Sums of edges up to ``room``, from 0 on, rising."""
    usable = np.unique(edges[edges <= room + ROUNDING].round(7))
    sums = np.zeros(1)
    while True:
        more = (sums[:, None] + np.concatenate([[0.0], usable])).ravel()
        more = _evenly(np.unique(more[more <= room + ROUNDING].round(6)), SUMS)
        if np.array_equal(more, sums) or len(more) == len(sums) == SUMS:
            return more
        sums = more


def _block(choice: Ints, rests: Ints, bricks: Sequence[Brick], at: tuple[int, ...]) -> Block | None:
    """What the program chose for the block whose edges are the marks with these numbers."""
    chosen = int(choice[at])
    if chosen == -1:
        return None
    if chosen < -1:
        return Block(bricks[-2 - chosen].edges, -2 - chosen)
    mark, axis = divmod(chosen, 3)
    numbers = mark, int(rests[axis, at[axis], mark])
    parts = [
        _block(choice, rests, bricks, (*at[:axis], number, *at[axis + 1 :])) for number in numbers
    ]
    one, other = parts
    if one is None or other is None:
        return one or other
    edges = np.maximum(one.edges, other.edges)
    edges[axis] = one.edges[axis] + other.edges[axis]
    return Block(tuple(edges), None, axis, (one, other))
