"""The active constraints of a placed stone: surface, flaws, boundary, demands, the size ordered."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from optimizer.design.model import Body
from optimizer.mesh import Floats
from optimizer.placement.climb import Problem, State, stand
from optimizer.placement.contacts import Forces, Touch, facets_at, forces
from optimizer.placement.containers import Container
from optimizer.placement.ground import Ground
from optimizer.placement.growing import growing_by_clearance, growing_by_width
from optimizer.placement.model import (
    BOUNDARY,
    DEMAND,
    SIZE,
    SURFACE,
    ActiveConstraint,
    ActiveConstraints,
    Contact,
    Placement,
)
from optimizer.placement.place import Wall, Want, demands_of, named_walls, walls_of
from optimizer.placement.search import Watch
from optimizer.placement.sensitivity import RADIUS_MM, STEP_MM, Nearby, Place, climbed

MOST_TRIED = (
    12  # places of the surface that are relaxed one after the other, the greatest worth first
)
HOLDS = 1e-6  # share of all forces: a smaller one comes from the trace in the objective
SLOPE_MM = 1e-5  # for the growth of the volume with the width


@dataclass(frozen=True)
class _Solved:
    """A placement with the problem that it solves, in the ground's own frame."""

    ground: Ground
    want: Want
    problem: Problem
    state: State
    near: Nearby
    per_sigma: float  # carats, or mm of clearance, for one unit of σ
    ct_per_mm3: float

    @property
    def by_clearance(self) -> bool:
        return self.problem.growing.fixed_width is not None

    def gain(self, problem: Problem, surface: Callable[[Nearby], tuple[Container, ...]]) -> float:
        """The stone's gain in a problem of relaxed walls and demands, in which ``surface`` replaces
        the first container."""
        for near in (self.near, self.near.everything()):
            loose = replace(problem, containers=(*surface(near), *problem.containers[1:]))
            found = climbed(loose, self.state)
            if near.tells_all(loose, found):
                break
        if not found.met:
            return 0.0
        if problem.growing.fixed_width is not None:
            return max(0.0, found.sigma - self.state.sigma)
        body, width = problem.growing.body, self.problem.growing.width(self.state.sigma)
        more = body.volume_at(found.sigma) - body.volume_at(width)
        return max(0.0, more * self.ct_per_mm3)


def what_holds(
    ground: Ground,
    want: Want,
    placement: Placement,
    *,
    ct_per_mm3: float,
    watch: Watch,
    step_mm: float = STEP_MM,
) -> ActiveConstraints | None:
    """The active constraints of a finished search's stone, and the gain of relaxing each by a step.

    Once ``watch`` stops it, the constraints not yet tried have no gain; None where it was stopped
    before it began.
    """
    if watch.stop():
        return None
    solved = _solved(ground, want, placement, ct_per_mm3, step_mm)
    found = forces(solved.problem, solved.state)
    constraints = [*_places(solved, found, watch), *_others(solved, found, watch)]
    constraints.sort(key=lambda one: (-(one.gain or 0.0), -one.worth))
    if solved.by_clearance:
        constraints.append(_size(solved, watch))
    return ActiveConstraints(solved.by_clearance, RADIUS_MM, found.left_over, tuple(constraints))


def _solved(
    ground: Ground, want: Want, placement: Placement, ct_per_mm3: float, step_mm: float
) -> _Solved:
    body, width = want.body, placement.pose.width
    pose = ground.own_pose(placement.pose)
    if width < want.width_mm[1]:
        growing, ceiling = growing_by_width(body, want.skin_mm, want.width_mm[0]), want.width_mm[1]
        per_sigma = ct_per_mm3 * _slope(body, width)
    else:
        growing, ceiling, per_sigma = growing_by_clearance(body, width), np.inf, 1.0
    mm_per_radian = float(np.linalg.norm(body.vertices_at(width), axis=1).max())
    containers = (ground.surface, *walls_of(ground, want))
    problem = Problem(growing, containers, demands_of(ground, want), mm_per_radian, ceiling)
    state = stand(problem, pose.rotation, pose.translation, -np.inf)
    near = Nearby.of(problem, state, step_mm)
    return _Solved(ground, want, problem, state, near, per_sigma, ct_per_mm3)


def _slope(body: Body, width: float) -> float:
    """mm³ that the stone grows for a mm of width."""
    wider, narrower = (body.volume_at(width + step) for step in (SLOPE_MM, -SLOPE_MM))
    return (wider - narrower) / (2.0 * SLOPE_MM)


def _places(solved: _Solved, found: Forces, watch: Watch) -> Iterator[ActiveConstraint]:
    """Places of the rough's surface, by worth. The contact of the greatest worth and all within a
    radius of it are one place, and so on with the contacts that are left."""
    least = HOLDS * found.total
    mine = [k for k, t in enumerate(found.touches) if t.container == 0 and found.worths[k] > least]
    if not mine:  # a stone between two boundaries need not touch the surface
        return
    points = np.array([found.touches[k].point for k in mine]).reshape(-1, 3)
    worths = found.worths[mine]
    normals = np.array([found.touches[k].normal for k in mine]).reshape(-1, 3)
    centres = points[_centres(points, worths)]
    nearest = np.argmin(np.linalg.norm(points[:, None] - centres[None], axis=2), axis=1)
    for number in range(len(centres)):
        own = np.flatnonzero(nearest == number)
        others = np.delete(centres, number, axis=0)
        place = Place(centres[number], others, points[own], normals[own])
        gain = None
        if number < MOST_TRIED and not watch.stop():
            gain = solved.gain(solved.problem, partial(Nearby.loosened_at, place=place))
            watch.progress("trying what holds the stone", number + 1, len(centres), np.inf)
        worth = float(worths[own].sum()) * solved.per_sigma
        contacts = _contacts(solved, found, [mine[i] for i in own])
        yield ActiveConstraint(SURFACE, "", contacts, worth, "mm", solved.near.step_mm, gain)


def _centres(points: Floats, worths: Floats) -> list[int]:
    chosen: list[int] = []
    for k in np.argsort(-worths, kind="stable"):
        apart = np.linalg.norm(points[chosen] - points[k], axis=1)
        if not len(chosen) or apart.min() > RADIUS_MM:
            chosen.append(int(k))
    return chosen


def _contacts(solved: _Solved, found: Forces, own: list[int]) -> tuple[Contact, ...]:
    """Touches as contacts in the scan frame, the most worth first."""
    order = sorted(own, key=lambda k: -found.worths[k])
    return tuple(_contact(solved, found.touches[k], float(found.worths[k])) for k in order)


def _contact(solved: _Solved, touch: Touch, worth: float) -> Contact:
    ground = solved.ground
    there = ground.origin + ground.ground2scan @ touch.point
    here = ground.origin + ground.ground2scan @ touch.on_stone
    facets = facets_at(solved.problem, solved.state, touch.on_stone)
    return Contact(there, here, facets, worth * solved.per_sigma)


def _others(solved: _Solved, found: Forces, watch: Watch) -> Iterator[ActiveConstraint]:
    """The boundary, flaws and demands that are active."""
    least = HOLDS * found.total
    walls = named_walls(solved.ground, solved.want)
    for number, wall in enumerate(walls, start=1):  # the surface is the first container
        mine = [k for k, t in enumerate(found.touches) if t.container == number]
        own = [k for k in mine if found.worths[k] > least]
        if not own:
            continue
        worth, contacts = float(found.worths[own].sum()), _contacts(solved, found, own)
        if wall.kind == BOUNDARY:
            # A boundary is shown by the point on the stone: its distance is the demand's to say.
            contacts = tuple(replace(one, point=one.on_stone) for one in contacts)
        loose = _with_wall(solved, number, wall)
        gain = None if watch.stop() else solved.gain(loose, Nearby.as_it_is)
        worth *= solved.per_sigma
        yield ActiveConstraint(
            wall.kind, wall.name, contacts, worth, "mm", solved.near.step_mm, gain
        )
    for number, worth in enumerate(found.demands):
        if worth > least:
            yield _demand(solved, number, worth, watch)


def _with_wall(solved: _Solved, number: int, wall: Wall) -> Problem:
    """The problem with one wall a step farther off."""
    containers = list(solved.problem.containers)
    containers[number] = wall.farther(solved.ground, solved.want.skin_mm, solved.near.step_mm)
    return replace(solved.problem, containers=tuple(containers))


def _demand(solved: _Solved, number: int, worth: float, watch: Watch) -> ActiveConstraint:
    problem, demand = solved.problem, solved.problem.demands[number]
    boundary, half = solved.want.boundary, 1.0
    if boundary is not None:
        corners = problem.growing.corners(solved.state.sigma) @ solved.state.rotation.T
        half = float(np.ptp(corners @ solved.ground.plane(boundary).normal)) / 2.0
    loose = demand.relaxed(problem.mm_per_radian, half)
    demands = (*problem.demands[:number], loose.demand, *problem.demands[number + 1 :])
    gain = None
    if not watch.stop():
        gain = solved.gain(replace(problem, demands=demands), Nearby.as_it_is)
    per_unit = worth * solved.per_sigma * loose.per_unit
    return ActiveConstraint(DEMAND, demand.sentence, (), per_unit, loose.unit, loose.step, gain)


def _size(solved: _Solved, watch: Watch) -> ActiveConstraint:
    """The order's greatest size, which holds the weight: how much a wider stone would gain."""
    body, width = solved.want.body, solved.problem.growing.width(solved.state.sigma)
    growing = growing_by_width(body, solved.want.skin_mm, solved.want.width_mm[0])
    wider = replace(solved.problem, growing=growing, ceiling=width + solved.near.step_mm)
    gain = None if watch.stop() else solved.gain(wider, Nearby.as_it_is)
    worth = _slope(body, width) * solved.ct_per_mm3
    return ActiveConstraint(
        SIZE, "the greatest width ordered", (), worth, "mm", solved.near.step_mm, gain
    )
