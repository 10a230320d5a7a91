"""The cuts of a fork, numbered from the root, what lies below first."""

from collections.abc import Iterator, Sequence

from optimizer.mesh import Plane
from optimizer.several.model import Fork

Side = tuple[int, float]
"""A cut's number, and 1 for what lies below it, -1 for what lies above."""


def cuts_of(fork: Fork | int) -> tuple[Plane, ...]:
    """Every cut's plane, in order of number."""
    if isinstance(fork, int):
        return ()
    return (fork.plane, *cuts_of(fork.below), *cuts_of(fork.above))


def with_cuts(fork: Fork | int, planes: Sequence[Plane]) -> Fork | int:
    """The same fork with other planes, in order of number."""
    if isinstance(fork, int):
        return fork
    below = 1 + len(cuts_of(fork.below))
    return Fork(
        planes[0], with_cuts(fork.below, planes[1:below]), with_cuts(fork.above, planes[below:])
    )


def sides_of(fork: Fork | int, first: int = 0) -> Iterator[tuple[int, tuple[Side, ...]]]:
    """Each stone's index with the cuts on its way from the root, and its side of them."""
    if isinstance(fork, int):
        yield fork, ()
        return
    above = first + 1 + len(cuts_of(fork.below))
    for branch, start, side in ((fork.below, first + 1, 1.0), (fork.above, above, -1.0)):
        for stone, others in sides_of(branch, start):
            yield stone, ((first, side), *others)
