"""The tree of saw cuts that divides a piece: a guillotine cut tree.

Each node is a cut right through one piece; its two branches are what lies below and above the cut.
A leaf is the index of the one stone in that piece. Cuts are numbered from the root, first the node,
then all of the branch below, then all of the branch above.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from optimizer.mesh import Plane

Side = tuple[int, float]
"""A cut's number, and 1 for a stone below the cut, -1 for a stone above it."""


@dataclass(frozen=True)
class CutTree:
    """A saw cut and its two branches, each a stone's index or another cut. ``plane`` is the middle
    of the kerf (scan frame), its normal towards ``above``."""

    plane: Plane
    below: "CutTree | int"
    above: "CutTree | int"


def stones_of(tree: CutTree | int) -> tuple[int, ...]:
    """The indices of all stones in the tree, from below to above."""
    if isinstance(tree, int):
        return (tree,)
    return (*stones_of(tree.below), *stones_of(tree.above))


def cuts_of(tree: CutTree | int) -> tuple[Plane, ...]:
    """The plane of every cut, in order of number."""
    if isinstance(tree, int):
        return ()
    return (tree.plane, *cuts_of(tree.below), *cuts_of(tree.above))


def with_cuts(tree: CutTree | int, planes: Sequence[Plane]) -> CutTree | int:
    """The same tree with other planes, in order of number."""
    if isinstance(tree, int):
        return tree
    below = 1 + len(cuts_of(tree.below))
    return CutTree(
        planes[0], with_cuts(tree.below, planes[1:below]), with_cuts(tree.above, planes[below:])
    )


def sides_of(tree: CutTree | int, first: int = 0) -> Iterator[tuple[int, tuple[Side, ...]]]:
    """Each stone's index, with every cut between the root and the stone and the stone's side of
    it. ``first`` is the number of the root's cut."""
    if isinstance(tree, int):
        yield tree, ()
        return
    above = first + 1 + len(cuts_of(tree.below))
    for branch, start, side in ((tree.below, first + 1, 1.0), (tree.above, above, -1.0)):
        for stone, others in sides_of(branch, start):
            yield stone, ((first, side), *others)


def cell_walls(tree: CutTree | int, allowance_mm: float) -> Iterator[tuple[int, tuple[Plane, ...]]]:
    """Each stone's index with the planes that the stone must stay below: the cuts between the root
    and the stone, flipped where the stone lies above, each moved towards the stone by the
    allowance."""
    if isinstance(tree, int):
        yield tree, ()
        return
    for side, plane in ((tree.below, tree.plane), (tree.above, tree.plane.flipped())):
        wall = Plane(plane.normal, plane.offset - allowance_mm)
        for stone, others in cell_walls(side, allowance_mm):
            yield stone, (wall, *others)


def neighbours(tree: CutTree | int, leaf: int) -> tuple[int, ...]:
    """The stones on the other side of the last cut before a leaf: their pieces grow when the
    leaf's stone is taken out."""
    if isinstance(tree, int):
        return ()
    for side, other in ((tree.below, tree.above), (tree.above, tree.below)):
        if side == leaf:
            return tuple(stones_of(other))
    return neighbours(tree.below, leaf) or neighbours(tree.above, leaf)


def with_branch(tree: CutTree | int, leaf: int, branch: CutTree | int) -> CutTree | int:
    """The tree with a leaf replaced by a branch."""
    if isinstance(tree, int):
        return branch if tree == leaf else tree
    return CutTree(
        tree.plane, with_branch(tree.below, leaf, branch), with_branch(tree.above, leaf, branch)
    )


def without_leaf(tree: CutTree | int, leaf: int) -> CutTree | int:
    """The tree without one leaf and the last cut before it; later stones move up by one index."""
    return _renumbered(_pruned(tree, leaf), leaf)


def _pruned(tree: CutTree | int, leaf: int) -> CutTree | int:
    if isinstance(tree, int):
        return tree
    if tree.below == leaf:
        return tree.above
    if tree.above == leaf:
        return tree.below
    return replace(tree, below=_pruned(tree.below, leaf), above=_pruned(tree.above, leaf))


def _renumbered(tree: CutTree | int, gone: int) -> CutTree | int:
    if isinstance(tree, int):
        return tree - (tree > gone)
    return replace(tree, below=_renumbered(tree.below, gone), above=_renumbered(tree.above, gone))
