"""Several stones and the cuts between them as one set of unknowns, in the ground's own frame.

A stone's σ is its width: the largest that the rough, the cuts and the ordered range leave at its
pose, and no larger than the other stone of its pair allows. So no layout contains a stone that is
too large for its place; at worst some stones are smaller than asked.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

import numpy as np

from optimizer.mesh import Floats, Plane
from optimizer.placement.climb import Problem, State, stand, turned
from optimizer.placement.containers import Planes
from optimizer.placement.rotations import turning_z_to
from optimizer.several.cut_tree import Side
from optimizer.several.pair_constraints import PairConstraint

SLOPE_STEP = 1e-6  # of the width: step of the central difference for the volume's slope

T = TypeVar("T")


class ParallelMap(Protocol):
    """``map`` itself, or the ``map`` of a pool of threads."""

    def __call__(self, function: Callable[[int], T], numbers: Iterable[int], /) -> Iterator[T]:
        """The function's values, in the order of the numbers."""


@dataclass(frozen=True)
class JointStone:
    """One stone of a joint problem: what does not change while stones and cuts move."""

    problem: Problem  # without the cuts; σ is the width, the ceiling the greatest width allowed
    least_width: float  # asked by the order
    kept_width: float  # not to be given up: the least width, or a wider one at a price break
    worth_at: Callable[[float], float]  # worth at a width
    sides: tuple[Side, ...]  # the cuts beside the stone

    def slope(self, sigma: float) -> float:
        """Worth per mm of width, at the price per carat that this width has."""
        step, volume_at = SLOPE_STEP * sigma, self.problem.growing.body.volume_at
        steepness = (volume_at(sigma + step) - volume_at(sigma - step)) / (2.0 * step)
        return self.worth_at(sigma) / volume_at(sigma) * steepness


@dataclass(frozen=True)
class JointCut:
    """One cut of a joint problem: it tilts about ``point`` (3,). One radian of tilt counts as
    ``mm_per_radian``, the distance to the farthest reach of its stones."""

    point: Floats
    mm_per_radian: float
    locked: bool  # the direction stays, only the offset moves


@dataclass(frozen=True)
class JointProblem:
    """The stones and cuts that move together, and the constraints between them."""

    stones: tuple[JointStone, ...]
    cuts: tuple[JointCut, ...]
    pairs: tuple[PairConstraint, ...]
    allowance_mm: float  # from a cut's plane to a stone
    upright: Floats | None = None  # (3,): stones turn about it alone; None: as they like

    @property
    def least_widths(self) -> Floats:
        """The least width asked of each stone, (n,)."""
        return np.array([s.least_width for s in self.stones])

    @property
    def kept_widths(self) -> Floats:
        """The width that each stone should not give up, (n,)."""
        return np.array([s.kept_width for s in self.stones])


@dataclass(frozen=True)
class Layout:
    """Where all stones and cuts are; each state's σ is the width that the stone has there."""

    stones: tuple[State, ...]
    planes: tuple[Plane, ...]

    @property
    def widths(self) -> Floats:
        """Every σ, (n,)."""
        return np.array([s.sigma for s in self.stones])

    def shortfalls(self, floors: Floats) -> Floats:
        """How many mm each stone (n,) lacks: of its width in ``floors``, or of its worst demand,
        whichever is more."""
        lacks = np.maximum(floors - self.widths, [s.unmet for s in self.stones])
        return np.maximum(0.0, lacks)


def layout_at(
    joint: JointProblem,
    poses: Iterable[tuple[Floats, Floats]],
    planes: tuple[Plane, ...],
    parallel_map: ParallelMap,
) -> Layout:
    """The layout in which every stone is as large as it can be at its pose (rotation,
    translation), exactly."""
    at = list(poses)

    def one(number: int) -> State:
        return stand(problem_between(joint, number, planes), *at[number], -np.inf)

    stones = list(parallel_map(one, range(len(at))))
    for first, second, tolerance in joint.pairs:
        for k, other in ((first, second), (second, first)):
            most = stones[other].sigma + tolerance
            if stones[k].sigma > most:
                stones[k] = _narrowed(joint.stones[k].problem, stones[k], most)
    return Layout(tuple(stones), planes)


def _narrowed(problem: Problem, state: State, most: float) -> State:
    """The stone no wider than ``most``; its demands are evaluated again at that width."""
    free = replace(problem, containers=(), ceiling=most)
    return stand(free, state.rotation, state.translation, -np.inf)


def problem_between(joint: JointProblem, number: int, planes: tuple[Plane, ...]) -> Problem:
    """One stone's own problem, with the cuts beside it as fixed walls."""
    stone = joint.stones[number]
    if not stone.sides:
        return stone.problem
    # Every container adds the stone's skin; at a cut the allowance stands in its place.
    skin = stone.problem.growing.growths[0].margin0
    normals = np.array([side * planes[cut].normal for cut, side in stone.sides])
    offsets = np.array([side * planes[cut].offset for cut, side in stone.sides])
    walls = Planes(normals, offsets - joint.allowance_mm + skin)
    return replace(stone.problem, containers=(*stone.problem.containers, walls))


def layout_after(
    joint: JointProblem, at: Layout, stones: Floats, cuts: Floats, parallel_map: ParallelMap
) -> Layout:
    """The layout after a step: ``stones`` (n, 6) in mm of shift and turn, ``cuts`` (c, 3) in mm
    of shift and of two tilts."""
    poses = [
        (turned(s.rotation, step[3:], j.problem.mm_per_radian), s.translation + step[:3])
        for j, s, step in zip(joint.stones, at.stones, stones, strict=True)
    ]
    planes = tuple(map(_moved_plane, joint.cuts, at.planes, cuts))
    return layout_at(joint, poses, planes, parallel_map)


def _moved_plane(cut: JointCut, plane: Plane, step: Floats) -> Plane:
    across = turning_z_to(plane.normal)[:, :2]
    height = plane.offset - plane.normal @ cut.point + step[0]
    normal = plane.normal + across @ step[1:] / cut.mm_per_radian
    normal = plane.normal if cut.locked else normal / np.linalg.norm(normal)
    return Plane(normal, float(height + normal @ cut.point))
