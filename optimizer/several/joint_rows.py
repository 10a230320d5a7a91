"""The linear program of one joint step, sparse: a block of columns for each stone and each cut.

A stone has δσ, three shifts, three turns and a slack (all mm, as in ``climb``), a cut one shift and
two tilts. The last column is shared: how far the worst stone comes up, where that is sought.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.climb import BAND, linear_rows
from optimizer.placement.growth import Growth
from optimizer.placement.rotations import turning_z_to
from optimizer.several.joint import Joint, Layout, ParallelMap

STONE, CUT = 8, 3  # columns
NEAR_WALL = 2.0  # trust radii: stone and cut can both move, and a stone has few corners
FAR = 1e3  # trust radii, or levers: no limit
FIRST = 0.25  # trust radii: rows with less room are told the solver from the start
PRECISE = 1e-9  # of the trust radius, to which rows are met


@dataclass(frozen=True)
class Costs:
    """What a step is for, to first order."""

    slopes: Floats  # (n,) for a mm of a stone's width
    prices: Floats  # (n,) for a mm that a stone lacks
    floors: Floats  # (n,) widths that the stones are held to, at that price; -inf: none
    targets: Floats | None = None  # (n,) the least of σ over these counts for one; None: nothing


@dataclass(frozen=True)
class Step:
    """A solved program's step."""

    stones: Floats  # (n, 8)
    cuts: Floats  # (c, 3)
    promise: float  # gain to first order


Block = tuple[Floats, int]
"""Coefficients (r, k) and the first of their columns."""
Strip = tuple[list[Block], Floats]
"""Rows side by side, and their limits (r,)."""


def solved(joint: Joint, at: Layout, radius: float, costs: Costs, each: ParallelMap) -> Step | None:
    """The best step within the trust radius; None where the solver finds none."""
    n, c = len(joint.members), len(joint.hinges)
    parts = each(lambda k: _stone(joint, at, k, radius), range(n))
    strips = [strip for part in parts for strip in part]
    strips += [_pair(at, *pair) for pair in joint.pairs]
    strips += [_floor(at, costs, k) for k in range(n) if np.isfinite(costs.floors[k])]
    width = STONE * n + CUT * c + 1
    if costs.targets is not None:
        strips += _shares(at, costs.targets, width - 1)
    matrix, limits = _sparse(strips, width)
    objective, reach = _objective(joint, costs, width), _reach(joint, radius, costs, width)
    # In trust radii, so that the solver's own tolerance shrinks with the steps.
    best = _best_within(matrix, limits / radius, objective, reach / radius)
    if best is None:
        return None
    step = radius * best
    promise = float(objective @ step + costs.prices @ at.short(costs.floors))
    return Step(step[: STONE * n].reshape(n, STONE), step[STONE * n : -1].reshape(c, CUT), promise)


def _best_within(matrix: Any, limits: Floats, objective: Floats, reach: Floats) -> Floats | None:
    """The x within ±reach with matrix·x <= limits and the greatest objective·x.

    Few rows hold in the end, so those with little room come first and the others once broken.
    """
    from scipy.optimize import linprog

    scaled, bounds = -objective / np.abs(objective).max(), np.column_stack([-reach, reach])
    options = {
        "presolve": False, "primal_feasibility_tolerance": PRECISE,
        "dual_feasibility_tolerance": PRECISE,
    }  # fmt: skip
    told = limits < FIRST
    while True:
        found = linprog(
            scaled, matrix[told], limits[told], bounds=bounds, method="highs-ds", options=options
        )
        if found.x is None:
            return None
        broken = matrix @ found.x - limits > 10.0 * PRECISE
        if not np.any(broken & ~told):
            return np.asarray(found.x)
        told |= broken


def _stone(joint: Joint, at: Layout, number: int, radius: float) -> list[Strip]:
    """What holds one stone: the rough and its demands, then each cut beside it."""
    member, state = joint.members[number], at.stones[number]
    growing, first = member.problem.growing, STONE * number
    band = BAND * radius / min(g.pace for g in growing.growths)
    rows, limits = linear_rows(member.problem, state, band)
    held = np.isfinite(limits)  # a window without an upper end has a row as well
    strips: list[Strip] = [([(rows[held], first)], limits[held])]
    for cut, side in member.sides:
        column = STONE * len(joint.members) + CUT * cut
        for growth in growing.near(state.sigma, band):
            of_stone, of_cut, room = _wall(joint, at, number, growth, cut, side)
            near = room < NEAR_WALL * radius
            strips.append(([(of_stone[near], first), (of_cut[near], column)], room[near]))
    return strips


def _wall(
    joint: Joint, at: Layout, number: int, growth: Growth, cut: int, side: float
) -> tuple[Floats, Floats, Floats]:
    """The stone's corners below (``side`` 1) or above (-1) a cut: coefficients (k, 8) and (k, 3),
    and each corner's room (k,)."""
    state, plane, hinge = at.stones[number], at.planes[cut], joint.hinges[cut]
    arms = (growth.corners0 + growth.corners1 * state.sigma) @ state.rotation.T
    corners, normal = arms + state.translation, side * plane.normal
    of_stone = np.zeros((len(arms), STONE))
    of_stone[:, 0] = growth.corners1 @ state.rotation.T @ normal
    of_stone[:, 1:4] = normal
    of_stone[:, 4:7] = np.cross(arms, normal) / joint.members[number].problem.lever
    across = turning_z_to(plane.normal)[:, :2]
    of_cut = np.full((len(arms), CUT), -side)
    of_cut[:, 1:] = side * (corners - hinge.point) @ across / hinge.lever
    return of_stone, of_cut, side * plane.offset - joint.allowance_mm - corners @ normal


def _pair(at: Layout, one: int, other: int, apart: float) -> Strip:
    """Two stones' widths within ``apart`` of one another."""
    sign = np.array([[1.0], [-1.0]])
    differ = at.stones[one].sigma - at.stones[other].sigma
    limits = np.array([apart - differ, apart + differ])
    return [(sign, STONE * one), (-sign, STONE * other)], limits


def _floor(at: Layout, costs: Costs, number: int) -> Strip:
    """A stone's width no less than asked, but for its slack."""
    row = np.zeros((1, STONE))
    row[0, [0, STONE - 1]] = -1.0
    return [(row, STONE * number)], at.widths[[number]] - costs.floors[number]


def _shares(at: Layout, targets: Floats, last: int) -> list[Strip]:
    """The last column no more than any stone's share of its target comes to, above the least."""
    shares = at.widths / targets
    return [
        ([(np.array([[-1.0 / target]]), STONE * k), (np.ones((1, 1)), last)], room)
        for k, (target, room) in enumerate(
            zip(targets, (shares - shares.min())[:, None], strict=True)
        )
    ]


def _sparse(strips: Sequence[Strip], width: int) -> tuple[Any, Floats]:
    """All strips under one another, as a sparse matrix of ``width`` columns, with limits."""
    from scipy.sparse import csr_array

    rows, columns, values, start = [], [], [], 0
    for blocks, limits in strips:
        for block, first in blocks:
            r, k = np.nonzero(block)
            rows.append(start + r)
            columns.append(first + k)
            values.append(block[r, k])
        start += len(limits)
    where = (np.concatenate(rows), np.concatenate(columns))
    matrix = csr_array((np.concatenate(values), where), shape=(start, width))
    return matrix, np.concatenate([limits for _, limits in strips])


def _objective(joint: Joint, costs: Costs, width: int) -> Floats:
    objective = np.zeros(width)
    stones = objective[: STONE * len(joint.members)].reshape(-1, STONE)
    stones[:, 0] = costs.slopes
    stones[:, STONE - 1] = -costs.prices
    objective[-1] = 0.0 if costs.targets is None else 1.0
    return objective


def _reach(joint: Joint, radius: float, costs: Costs, width: int) -> Floats:
    """How far each column may go either way, (width,)."""
    n, reach = len(joint.members), np.full(width, radius)
    stones, cuts = reach[: STONE * n].reshape(n, STONE), reach[STONE * n : -1].reshape(-1, CUT)
    for k, member in enumerate(joint.members):
        stones[k, 0] = FAR * radius
        stones[k, STONE - 1] = FAR * member.problem.lever
    for cut, hinge in zip(cuts, joint.hinges, strict=True):
        cut[1:] = 0.0 if hinge.locked else radius
    reach[-1] = 0.0 if costs.targets is None else FAR * radius
    return reach
