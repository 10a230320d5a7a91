"""All saw cuts in order: first those between the stones, then the caps off each stone's piece."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.mesh import Plane
from optimizer.order import Workshop
from optimizer.placement.model import Placement
from optimizer.rough.model import Rough
from optimizer.sawing.caps import ROUNDING_MM, Caps
from optimizer.sawing.depth import deepest_mm, sides_of
from optimizer.sawing.easy_normals import (
    axis_normals,
    reference_normals,
    run_of,
    separating_normals,
)
from optimizer.sawing.gap import PARALLEL, NamedNormal, planes_between
from optimizer.sawing.model import OutOfReachError
from optimizer.sawing.piece_tree import PieceTree
from optimizer.several.cut_tree import CutTree, stones_of
from optimizer.several.model import allowance_mm
from optimizer.wording.plain_number import plain

GROUP_SHARE = 0.25  # of a piece: a larger cap comes off a group of stones before they are parted
STONE_FEATURES = ("facet", "table", "length", "width")  # in how a cap runs
CutPlane = tuple[Plane, str]  # a cut's plane, and how it runs


@dataclass(frozen=True)
class _Cap:
    """The cap that comes k-th off the piece that holds a stone, or all stones of a cut tree."""

    cut_tree: CutTree | int
    piece: int
    caps: Caps
    k: int
    for_reach: bool  # whether it comes off only so that the saw can reach between the stones


@dataclass(frozen=True)
class _SeparatingCut:
    """A piece to be sawn between the stones on both sides of a cut. ``caps``: the next one that
    may bring it within the saw's reach; empty once all are off, None as long as none is chosen."""

    piece: int
    cut_tree: CutTree
    caps: tuple[_Cap, ...] | None = None


_Step = _SeparatingCut | _Cap


def saw_all(
    rough: Rough,
    placements: Sequence[Placement],
    cut_tree: CutTree | int,
    workshop: Workshop,
    stop: Callable[[], bool],
) -> PieceTree:
    """Make all cuts; return the tree of pieces. Raises OutOfReachError where the saw doesn't reach
    through between the stones.

    Of the steps that are possible next, one that can run parallel to the last cut comes first,
    since it keeps the set-up; then come cuts between stones; then the caps, stone by stone.
    """
    planner = _CutPlanner(rough, placements, workshop, stop)
    ready = planner.next_steps(0, cut_tree)
    while ready:
        k, run = planner.choose_step(ready)
        ready[k : k + 1] = planner.perform(ready[k], run)
    if planner.caps_dropped:
        planner.tree.warnings.append(
            "Stopped before the caps were chosen: only the cuts between the stones are planned, "
            "and what is left on their pieces is ground or sawn off by eye."
        )
    return planner.tree


class _CutPlanner:
    """The pieces so far, and the steps that are possible next."""

    def __init__(
        self,
        rough: Rough,
        placements: Sequence[Placement],
        workshop: Workshop,
        stop: Callable[[], bool],
    ) -> None:
        self.rough, self.placements, self.workshop, self.stop = rough, placements, workshop, stop
        self.corners = [p.mesh().vertices for p in placements]
        inner_points = [p.pose.translation for p in placements]
        self.tree = PieceTree(rough.mesh, inner_points, rough.material.sg, workshop)
        self.caps_dropped = False  # whether a stop came before the caps were chosen

    def next_steps(self, piece: int, cut_tree: CutTree | int) -> list[_Step]:
        """The next step with a piece that holds some of the tree's stones."""
        here = _restricted(cut_tree, self.tree.stones_in(piece))
        if here is None:
            return []
        if isinstance(here, int):
            return self._start_stone_caps(piece, here)
        return self._start_group_caps(piece, here)

    def choose_step(self, ready: Sequence[_Step]) -> tuple[int, CutPlane | None]:
        """The index of the step that comes next, and where it cuts; None instead of a plane where
        caps must come off before the saw reaches through. Raises OutOfReachError."""
        for k, step in enumerate(ready):
            if self.tree.cuts and (kept := self._parallel_to_last(step)) is not None:
                return k, kept
        for k, step in enumerate(ready):
            if isinstance(step, _SeparatingCut):
                return k, self._best_separating_cut(step)
        return 0, self._plane_and_run(ready[0])

    def perform(self, step: _Step, run: CutPlane | None) -> list[_Step]:
        """Make the step's cut; return the steps that are possible after it."""
        if isinstance(step, _Cap):
            return self._saw_cap(step)
        if run is None:
            return self._next_cap_for_reach(step)
        cut_tree = step.cut_tree
        one, other = (_stone_names(stones_of(side)) for side in (cut_tree.below, cut_tree.above))
        self.tree.saw_between(
            step.piece, run[0], f"Parts {one} from {other}. The cut runs {run[1]}."
        )
        cut = self.tree.cuts[-1]
        sides = ((cut_tree.below, cut.below), (cut_tree.above, cut.above))
        return [after for side, ids in sides for i in ids for after in self.next_steps(i, side)]

    def _parallel_to_last(self, step: _Step) -> CutPlane | None:
        """The step's cut parallel to the last cut; None where it can't run so."""
        last, number = self.tree.cuts[-1].plane.normal, len(self.tree.cuts)
        if isinstance(step, _Cap):
            plane, run = self._plane_and_run(step)
            return (plane, run) if abs(float(plane.normal @ last)) >= PARALLEL else None
        for planes, run in self._planes_in_gap(
            step.cut_tree, [(last, f"parallel to cut {number}")]
        ):
            if abs(float(planes[0].normal @ last)) >= PARALLEL:
                plane, deep = self._shallowest(step.piece, planes)
                if sides_of(deep, self.workshop) == 1:
                    return plane, run
        return None

    def _best_separating_cut(self, step: _SeparatingCut) -> CutPlane | None:
        """The best place for a cut between stones: the first where the saw reaches through from one
        side, else the first where it does from two; None where caps may still help."""
        two_sided, least = None, np.inf
        tables = {
            i: self.placements[i].pose.rotation[:, 2] for i in sorted(stones_of(step.cut_tree))
        }
        normals = separating_normals(self.rough.reference_faces, self.tree.cuts, tables)
        for planes, run in self._planes_in_gap(step.cut_tree, normals):
            plane, deep = self._shallowest(step.piece, planes)
            if sides_of(deep, self.workshop) == 1:
                return plane, run
            if two_sided is None and deep <= deepest_mm(self.workshop):
                two_sided = plane, run
            least = min(least, deep)
        if two_sided is not None or step.caps != ():
            return two_sided
        one, other = (
            _stone_names(stones_of(side)) for side in (step.cut_tree.below, step.cut_tree.above)
        )
        raise OutOfReachError(
            f"{one} can't be parted from {other}: the blade would have to reach {least:.1f} mm "
            f"and the saw reaches {plain(deepest_mm(self.workshop))} mm"
        )

    def _planes_in_gap(
        self, cut_tree: CutTree, preferred: Sequence[NamedNormal]
    ) -> Iterator[tuple[tuple[Plane, ...], str]]:
        below, above = (
            np.vstack([self.corners[i] for i in stones_of(side)])
            for side in (cut_tree.below, cut_tree.above)
        )
        allowance = allowance_mm(self.workshop) + ROUNDING_MM
        normal = cut_tree.plane.normal
        run = run_of(normal, self.rough.reference_faces, self.tree.cuts) or "at a free angle"
        return planes_between(
            below, above, (normal, run), preferred, allowance, self.workshop.grind_mm
        )

    def _shallowest(self, piece: int, planes: Sequence[Plane]) -> tuple[Plane, float]:
        """Of equally good planes the one that needs the least depth, and this depth in mm."""
        deep = [round(self.tree.depth(piece, plane), 3) for plane in planes]
        best = int(np.argmin(deep))
        return planes[best], deep[best]

    def _start_stone_caps(self, piece: int, stone: int) -> list[_Step]:
        if len(self.placements) > 1 and self.stop():
            self.caps_dropped = True
            return []
        caps = self._choose_caps(piece, stone, self.workshop)
        return self._next_after_caps(_Cap(stone, piece, caps, 0, False))

    def _start_group_caps(self, piece: int, cut_tree: CutTree) -> list[_Step]:
        """Before a group is separated, caps that are a large part of its piece come off: one large
        offcut is better than a slice of it beside each stone. Half of the cuts allowed are left for
        the stones' own caps."""
        if self.stop():
            return [_SeparatingCut(piece, cut_tree)]
        shop = self.workshop
        keep = max(GROUP_SHARE * self.tree.carat_of(piece), shop.keep_offcut_ct)
        only_large = replace(
            shop, keep_offcut_ct=keep, grind_mm=np.inf, most_cuts=shop.most_cuts // 2
        )
        caps = self._choose_caps(piece, cut_tree, only_large)
        return self._next_after_caps(_Cap(cut_tree, piece, caps, 0, False))

    def _next_cap_for_reach(self, step: _SeparatingCut) -> list[_Step]:
        """The next cap that the rule asks for on a group's piece, so that the saw may reach
        through."""
        if step.caps:
            return list(step.caps)
        caps = self._choose_caps(step.piece, step.cut_tree, self.workshop)
        return self._next_after_caps(_Cap(step.cut_tree, step.piece, caps, 0, True))

    def _choose_caps(self, piece: int, cut_tree: CutTree | int, workshop: Workshop) -> Caps:
        stones = [self.placements[i] for i in sorted(stones_of(cut_tree))]
        easy = reference_normals(self.rough.reference_faces, list(self.tree.sawn_faces(piece)))
        if len(stones) > 1:
            easy |= axis_normals(stones[0].pose)
        return Caps.of(
            self.tree.pieces[piece].mesh,
            stones,
            self.tree.sg,
            easy,
            workshop,
            self.tree.caps_before(piece),
            self.stop,
        )

    def _remaining(self, step: _Cap) -> list[_Cap]:
        """The step in a list; an empty list once all its caps are off."""
        return [step] if step.k < len(step.caps.chosen) else []

    def _next_after_caps(self, step: _Cap) -> list[_Step]:
        """The step itself while caps are left; else the steps that follow the caps."""
        if left := self._remaining(step):
            return list(left)
        if isinstance(step.cut_tree, CutTree):
            return [_SeparatingCut(step.piece, step.cut_tree, () if step.for_reach else None)]
        whose = f" of stone {step.cut_tree + 1}'s piece" if len(self.placements) > 1 else ""
        self.tree.warnings.extend(step.caps.unsawn_cap_warnings(whose))
        return []

    def _saw_cap(self, step: _Cap) -> list[_Step]:
        caps, cut_tree = step.caps, step.cut_tree
        after = replace(step, k=step.k + 1)
        if not self.tree.saw_cap(step.piece, *self._plane_and_run(step)):
            return self._next_after_caps(after)
        caps.done = (*caps.done, caps.chosen[step.k])
        homes = sorted({self.tree.stone_pieces[i] for i in stones_of(cut_tree)})
        if len(homes) == 1:
            after = replace(after, piece=homes[0])
            if isinstance(cut_tree, CutTree) and step.for_reach:
                return [_SeparatingCut(homes[0], cut_tree, tuple(self._remaining(after)))]
            return self._next_after_caps(after)
        return [one for home in homes for one in self.next_steps(home, cut_tree)]

    def _plane_and_run(self, step: _Step) -> CutPlane:
        assert isinstance(step, _Cap)
        cut = step.caps.chosen[step.k]
        run = cut.name
        if len(self.placements) > 1 and isinstance(step.cut_tree, int):
            run += f" of stone {step.cut_tree + 1}" if any(w in run for w in STONE_FEATURES) else ""
        return step.caps.plane(cut), run


def _restricted(cut_tree: CutTree | int, stones: Sequence[int]) -> CutTree | int | None:
    """What is left of a cut tree for some of its stones."""
    if isinstance(cut_tree, int):
        return cut_tree if cut_tree in stones else None
    below, above = _restricted(cut_tree.below, stones), _restricted(cut_tree.above, stones)
    if below is None or above is None:
        return above if below is None else below
    return CutTree(cut_tree.plane, below, above)


def _stone_names(stones: Sequence[int]) -> str:
    """The stones' numbers in words, such as "stones 1, 2 and 4"."""
    if len(stones) == 1:
        return f"stone {stones[0] + 1}"
    numbers = [str(stone + 1) for stone in sorted(stones)]
    return f"stones {', '.join(numbers[:-1])} and {numbers[-1]}"
