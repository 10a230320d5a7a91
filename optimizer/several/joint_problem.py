"""A division as a joint problem, and a layout of that problem as a division again."""

from collections.abc import Callable, Collection, Sequence
from dataclasses import replace

import numpy as np

from optimizer.mesh import Floats, Plane
from optimizer.order import Range
from optimizer.placement.climb import MET_MM, Problem, State
from optimizer.placement.containers import Container
from optimizer.placement.flat_rows import FlatSurface
from optimizer.placement.ground import Ground
from optimizer.placement.growing import growing_by_width
from optimizer.placement.near import state_of
from optimizer.placement.place import Want, as_placement, demands_of, walls_of
from optimizer.placement.rotations import orthonormal
from optimizer.several.cut_tree import Side, cuts_of, sides_of, with_cuts
from optimizer.several.instance import Instance
from optimizer.several.joint import JointCut, JointProblem, JointStone, Layout
from optimizer.several.model import Division, PlacedStone, allowance_mm
from optimizer.several.pair_constraints import pair_constraints


def joint_problem(
    instance: Instance, division: Division, locked: Collection[int] = ()
) -> tuple[JointProblem, Layout]:
    """The joint problem of a division, and the division as its layout, with the widths as given.
    Cuts with a ``locked`` number keep their direction."""
    ground, sides = instance.ground, dict(sides_of(division.cut_tree))
    rough = FlatSurface.like(ground.surface)
    states = [state_of(ground, stone.placement) for stone in division.stones]
    stones = tuple(
        _joint_stone(instance, rough, stone, state, sides[number])
        for number, (stone, state) in enumerate(zip(division.stones, states, strict=True))
    )
    layout = Layout(tuple(states), tuple(map(ground.plane, cuts_of(division.cut_tree))))
    cuts = tuple(_joint_cut(stones, layout, k, k in locked) for k in range(len(layout.planes)))
    pairs = pair_constraints(instance.wishes, division.stones)
    return JointProblem(stones, cuts, pairs, allowance_mm(instance.workshop)), layout


def _joint_stone(
    instance: Instance, rough: Container, stone: PlacedStone, state: State, sides: tuple[Side, ...]
) -> JointStone:
    ground, want = instance.ground, want_of(stone)
    planes = None if want.solids else ground.inner
    corners = want.body.vertices_at(state.sigma)
    low, high = want.width_mm
    problem = Problem(
        growing_by_width(want.body, want.skin_mm, low),
        (planes or rough, *walls_of(ground, want)),
        demands_of(ground, want),
        float(np.linalg.norm(corners, axis=1).max()),
        high,
    )
    kept = max(low, min(instance.least_width_at_price(stone), high))
    return JointStone(problem, low, kept, _worth_at(instance, stone), sides)


def _worth_at(instance: Instance, stone: PlacedStone) -> Callable[[float], float]:
    return lambda width: instance.worth_at(stone, width)


def _joint_cut(stones: Sequence[JointStone], at: Layout, cut: int, locked: bool) -> JointCut:
    """The cut tilts about the point of its plane amid its stones."""
    beside = [k for k, s in enumerate(stones) if any(c == cut for c, _ in s.sides)]
    centres = np.array([at.stones[k].translation for k in beside])
    plane, point = at.planes[cut], centres.mean(axis=0)
    point = point - (plane.normal @ point - plane.offset) * plane.normal
    distances = np.linalg.norm(centres - point, axis=1)
    radii = np.array([stones[k].problem.mm_per_radian for k in beside])
    return JointCut(point, float((distances + radii).max()), locked)


def want_of(stone: PlacedStone) -> Want:
    """What is asked of the stone by itself, with the body that was chosen. Its walls are those of
    its offer; the cuts are not among them."""
    body, offer = stone.placement.body, stone.offer
    window: Range = offer.want.width_mm if offer.freedom is None else offer.freedom.window(body)
    return replace(offer.want, body=body, width_mm=window)


def as_division(
    instance: Instance, joint: JointProblem, division: Division, at: Layout
) -> Division:
    """The layout in the scan frame, each stone with its exact clearance."""
    ground = instance.ground
    stones = []
    for stone, own, state in zip(division.stones, joint.stones, at.stones, strict=True):
        # A width that falls short by MET_MM or less does so by rounding alone.
        floors = [f for f in (own.least_width, own.kept_width) if 0.0 < f - state.sigma <= MET_MM]
        rotation = np.ascontiguousarray(orthonormal(state.rotation))
        there = replace(state, sigma=max([state.sigma, *floors]), rotation=rotation)
        stones.append(replace(stone, placement=as_placement(ground, want_of(stone), there)))
    planes = [in_scan_frame(ground, plane) for plane in at.planes]
    return Division(tuple(stones), with_cuts(division.cut_tree, planes))


def in_scan_frame(ground: Ground, plane: Plane) -> Plane:
    """A plane of the ground's own frame in the scan frame."""
    normal: Floats = ground.ground2scan @ plane.normal
    return Plane(normal, float(plane.offset + normal @ ground.origin))
