"""The cuts that free several stones: first between them, then the caps off each one's piece."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Plane
from optimizer.order import Workshop
from optimizer.placement.model import Placement
from optimizer.rough.model import Rough
from optimizer.sawing.caps import ROUNDING_MM, Caps
from optimizer.sawing.gap import PARALLEL, Way, planes_between, without_twins
from optimizer.sawing.model import OutOfReachError
from optimizer.sawing.tree import Tree
from optimizer.several.model import Fork, allowance_mm


@dataclass(frozen=True)
class _Next:
    """A cut that can be made now: where, and how; making it tells which can be made then."""

    plane: Plane
    make: "Callable[[], list[_Next]]"
    parts: bool  # stones lie on both sides


def free_stones(
    rough: Rough,
    placements: Sequence[Placement],
    fork: Fork | int,
    workshop: Workshop,
    stop: Callable[[], bool],
) -> Tree:
    """The tree of all cuts. Raises OutOfReachError where the saw can't part the stones.

    Of the cuts that can be made, one parallel to the last comes first, so that a set-up is kept;
    then those between stones; then the caps, stone by stone.
    """
    work = _Work(rough, placements, workshop, stop)
    ready = work.through(0, fork)
    last: Plane | None = None
    while ready:
        k = min(range(len(ready)), key=lambda k: _rank(ready[k], last))
        last = ready[k].plane
        ready[k : k + 1] = ready[k].make()
    if work.dropped:
        work.tree.warnings.append(
            "Stopped before the caps were chosen: only the cuts between the stones are planned, "
            "and what is left on their pieces is ground or sawn off by eye."
        )
    return work.tree


def _rank(cut: _Next, last: Plane | None) -> tuple[bool, bool]:
    kept = last is not None and abs(float(cut.plane.normal @ last.normal)) >= PARALLEL
    return not kept, not cut.parts


class _Work:
    def __init__(
        self,
        rough: Rough,
        placements: Sequence[Placement],
        workshop: Workshop,
        stop: Callable[[], bool],
    ) -> None:
        self.rough, self.placements, self.workshop, self.stop = rough, placements, workshop, stop
        self.corners = [p.mesh().vertices for p in placements]
        insides = [p.pose.translation for p in placements]
        self.tree = Tree(rough.mesh, insides, rough.material.sg, workshop)
        self.dropped = False  # caps, for want of time

    @property
    def several(self) -> bool:
        return len(self.placements) > 1

    def through(self, piece: int, fork: Fork | int) -> list[_Next]:
        """The next cut through a piece that holds some of the fork's stones."""
        here = _only(fork, self.tree.stones_in(piece))
        if here is None:
            return []
        if isinstance(here, int):
            return self._caps(here)
        plane, run = self._between(piece, here)
        return [_Next(plane, lambda: self._part(piece, here, plane, run), True)]

    def _part(self, piece: int, fork: Fork, plane: Plane, run: str) -> list[_Next]:
        one, other = (_told(sorted(stones_of(side))) for side in (fork.below, fork.above))
        self.tree.part(piece, plane, f"Parts {one} from {other}. The cut runs {run}.")
        cut = self.tree.cuts[-1]
        return [
            following
            for side, pieces in ((fork.below, cut.below), (fork.above, cut.above))
            for one_piece in pieces
            for following in self.through(one_piece, side)
        ]

    def _between(self, piece: int, fork: Fork) -> tuple[Plane, str]:
        """The plane of a parting cut and how it runs: the first that the saw reaches through."""
        below, above = (stones_of(side) for side in (fork.below, fork.above))
        found = planes_between(
            np.vstack([self.corners[i] for i in below]),
            np.vstack([self.corners[i] for i in above]),
            fork.plane,
            self._preferred([*below, *above]),
            allowance_mm(self.workshop) + ROUNDING_MM,
            self.workshop.grind_mm,
        )
        least = np.inf
        for planes, run in found:
            deep = [round(self.tree.depth(piece, plane), 3) for plane in planes]
            best = int(np.argmin(deep))
            if deep[best] <= self.workshop.saw_reach_mm:
                return planes[best], run
            least = min(least, deep[best])
        raise OutOfReachError(
            f"{_told(sorted(below))} can't be parted from {_told(sorted(above))}: the blade would "
            f"have to reach {least:.1f} mm and the saw reaches {self.workshop.saw_reach_mm:g} mm"
        )

    def _preferred(self, stones: Sequence[int]) -> tuple[Way, ...]:
        flats = [
            (f.plane.normal, f"parallel to the rough's {f.name}")
            for f in self.rough.reference_faces
        ]
        earlier = [
            (cut.plane.normal, f"parallel to cut {number}")
            for number, cut in enumerate(self.tree.cuts, 1)
        ]
        tables = [
            (self.placements[i].pose.rotation[:, 2], f"parallel to the table of stone {i + 1}")
            for i in sorted(stones)
        ]
        return without_twins([*flats, *earlier, *tables])

    def _caps(self, stone: int) -> list[_Next]:
        if self.several and self.stop():
            self.dropped = True
            return []
        piece = self.tree.pieces[self.tree.holders[stone]].mesh
        caps = Caps.of(self.rough, piece, self.placements[stone], self.workshop, self.stop)
        return self._cap(stone, caps, 0)

    def _cap(self, stone: int, caps: Caps, k: int) -> list[_Next]:
        """The cap that comes k-th, or what is left to say when all are sawn."""
        if k == len(caps.chosen):
            whose = f" of stone {stone + 1}'s piece" if self.several else ""
            self.tree.warnings.extend(caps.left_on(whose))
            return []
        cut = caps.chosen[k]
        plane = caps.plane(cut)

        def make() -> list[_Next]:
            if self.tree.cap(self.tree.holders[stone], plane, cut.name):
                caps.done = (*caps.done, cut)
            return self._cap(stone, caps, k + 1)

        return [_Next(plane, make, False)]


def stones_of(fork: Fork | int) -> tuple[int, ...]:
    """All stones of a fork, from below to above."""
    if isinstance(fork, int):
        return (fork,)
    return (*stones_of(fork.below), *stones_of(fork.above))


def _only(fork: Fork | int, stones: Sequence[int]) -> Fork | int | None:
    """What is left of a fork for some of its stones."""
    if isinstance(fork, int):
        return fork if fork in stones else None
    below, above = _only(fork.below, stones), _only(fork.above, stones)
    if below is None or above is None:
        return above if below is None else below
    return Fork(fork.plane, below, above)


def _told(stones: Sequence[int]) -> str:
    """Stones by their numbers, as words."""
    if len(stones) == 1:
        return f"stone {stones[0] + 1}"
    numbers = [str(stone + 1) for stone in stones]
    return f"stones {', '.join(numbers[:-1])} and {numbers[-1]}"
