"""Forks of cuts, grown and pruned."""

from dataclasses import replace

from optimizer.several.model import Division, Fork, stones_of


def grafted(fork: Fork | int, leaf: int, graft: Fork | int) -> Fork | int:
    """The fork with a leaf replaced."""
    if isinstance(fork, int):
        return graft if fork == leaf else fork
    return Fork(fork.plane, grafted(fork.below, leaf, graft), grafted(fork.above, leaf, graft))


def without(division: Division, number: int) -> Division:
    """The division without one of its stones; its cut goes with it."""
    stones = (*division.stones[:number], *division.stones[number + 1 :])
    return Division(stones, _renumbered(_pruned(division.fork, number), number))


def neighbours(fork: Fork | int, leaf: int) -> tuple[int, ...]:
    """The stones across the cut that parts one from its like; their pieces grow when it goes."""
    if isinstance(fork, int):
        return ()
    for side, other in ((fork.below, fork.above), (fork.above, fork.below)):
        if side == leaf:
            return tuple(stones_of(other))
    return neighbours(fork.below, leaf) or neighbours(fork.above, leaf)


def _pruned(fork: Fork | int, leaf: int) -> Fork | int:
    if isinstance(fork, int):
        return fork
    if fork.below == leaf:
        return fork.above
    if fork.above == leaf:
        return fork.below
    return replace(fork, below=_pruned(fork.below, leaf), above=_pruned(fork.above, leaf))


def _renumbered(fork: Fork | int, gone: int) -> Fork | int:
    if isinstance(fork, int):
        return fork - (fork > gone)
    return replace(fork, below=_renumbered(fork.below, gone), above=_renumbered(fork.above, gone))
