"""Several stones and the cuts between them as one set of unknowns, in the ground's own frame.

A stone's σ is its width: the largest that the rough, the cuts and its own window leave at its pose,
and no larger than its pair allows. So a layout never holds a stone that is too large for its place;
at worst it holds some that are smaller than asked.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

import numpy as np

from optimizer.mesh import Floats, Plane
from optimizer.placement.climb import Problem, State, stand, turned
from optimizer.placement.containers import Planes
from optimizer.placement.rotations import turning_z_to
from optimizer.several.cuts import Side

SLOPE_STEP = 1e-6  # of the width: the volume's slope by differences

T = TypeVar("T")


class ParallelMap(Protocol):
    """``map``, or a pool's."""

    def __call__(self, function: Callable[[int], T], numbers: Iterable[int], /) -> Iterator[T]: ...


@dataclass(frozen=True)
class Member:
    """One stone, and what stays the same while all move."""

    problem: Problem  # all that holds it but the cuts; σ is the width, the ceiling its window's end
    least: float  # width asked
    kept: float  # width that it should keep: the least, or a break of its price where wider
    value: Callable[[float], float]  # worth at a width
    sides: tuple[Side, ...]  # the cuts beside it

    def slope(self, sigma: float) -> float:
        """Worth for a mm of width, at the price that a stone of this weight has."""
        step, volume_at = SLOPE_STEP * sigma, self.problem.growing.body.volume_at
        steepness = (volume_at(sigma + step) - volume_at(sigma - step)) / (2.0 * step)
        return self.value(sigma) / volume_at(sigma) * steepness


@dataclass(frozen=True)
class Hinge:
    """About what a cut tilts, and the mm for one radian: as far as its stones reach."""

    point: Floats  # (3,)
    lever: float
    locked: bool  # its direction is given: it only shifts


@dataclass(frozen=True)
class Joint:
    """What moves together, and what all must keep."""

    members: tuple[Member, ...]
    hinges: tuple[Hinge, ...]  # one for each cut
    pairs: tuple[tuple[int, int, float], ...]  # two stones, and how far their widths may differ
    allowance_mm: float  # from a cut's plane to a stone

    @property
    def least(self) -> Floats:
        """The widths asked at least, (n,)."""
        return np.array([m.least for m in self.members])

    @property
    def kept(self) -> Floats:
        """The widths that should be kept, (n,)."""
        return np.array([m.kept for m in self.members])


@dataclass(frozen=True)
class Layout:
    """Where all the stones and cuts are; σ is what a stone has here."""

    stones: tuple[State, ...]
    planes: tuple[Plane, ...]

    @property
    def widths(self) -> Floats:
        """Every σ, (n,)."""
        return np.array([s.sigma for s in self.stones])

    def short(self, floors: Floats) -> Floats:
        """What each stone (n,) lacks in mm of the widths ``floors`` or of its worst demand."""
        lacks = np.maximum(floors - self.widths, [s.unmet for s in self.stones])
        return np.maximum(0.0, lacks)


def stood(
    joint: Joint,
    poses: Iterable[tuple[Floats, Floats]],
    planes: tuple[Plane, ...],
    each: ParallelMap,
) -> Layout:
    """Every stone as large as it can be at its pose (rotation, translation), exactly."""
    at = list(poses)

    def one(number: int) -> State:
        return stand(beside(joint, number, planes), *at[number], -np.inf)

    stones = list(each(one, range(len(at))))
    for first, second, apart in joint.pairs:
        for k, other in ((first, second), (second, first)):
            most = stones[other].sigma + apart
            if stones[k].sigma > most:
                stones[k] = _no_larger(joint.members[k].problem, stones[k], most)
    return Layout(tuple(stones), planes)


def _no_larger(problem: Problem, state: State, most: float) -> State:
    """The stone smaller than it could be; its demands are looked at anew."""
    free = replace(problem, containers=(), ceiling=most)
    return stand(free, state.rotation, state.translation, -np.inf)


def beside(joint: Joint, number: int, planes: tuple[Plane, ...]) -> Problem:
    """The stone's own problem with the cuts as they lie for walls."""
    member = joint.members[number]
    if not member.sides:
        return member.problem
    # A container adds the stone's skin, which is no allowance at a cut.
    skin = member.problem.growing.growths[0].margin0
    normals = np.array([side * planes[cut].normal for cut, side in member.sides])
    offsets = np.array([side * planes[cut].offset for cut, side in member.sides])
    walls = Planes(normals, offsets - joint.allowance_mm + skin)
    return replace(member.problem, containers=(*member.problem.containers, walls))


def stepped(joint: Joint, at: Layout, stones: Floats, cuts: Floats, each: ParallelMap) -> Layout:
    """Where a step leads: ``stones`` (n, 6) in mm of shift and turn, ``cuts`` (c, 3) in mm of
    shift and of two tilts."""
    poses = [
        (turned(s.rotation, step[3:], m.problem.lever), s.translation + step[:3])
        for m, s, step in zip(joint.members, at.stones, stones, strict=True)
    ]
    planes = tuple(map(_moved, joint.hinges, at.planes, cuts))
    return stood(joint, poses, planes, each)


def _moved(hinge: Hinge, plane: Plane, step: Floats) -> Plane:
    across = turning_z_to(plane.normal)[:, :2]
    height = plane.offset - plane.normal @ hinge.point + step[0]
    normal = plane.normal + across @ step[1:] / hinge.lever
    normal = plane.normal if hinge.locked else normal / np.linalg.norm(normal)
    return Plane(normal, float(height + normal @ hinge.point))
