"""The linear program of one joint step, sparse: a block of columns for each stone and each cut.

A stone has eight columns: δσ, three shifts, three turns and a slack (all in mm, as in ``climb``).
A cut has three: one shift and two tilts. The last column is shared by all stones: the gain of the
least width ratio, where a step is to raise that.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.climb import BAND, linear_rows
from optimizer.placement.growth import Growth
from optimizer.placement.rotations import turning_z_to
from optimizer.several.joint import JointProblem, Layout, ParallelMap
from optimizer.several.pair_constraints import PairConstraint

STONE, CUT = 8, 3  # columns
NEAR_WALL = 2.0  # trust radii: stone and cut can both move, and a stone has few corners
FAR = 1e3  # trust radii, or half lengths: no limit
FIRST = 0.25  # trust radii: rows with less slack are in the program from the start
PRICE = 1e-5  # of any movement, as a share of the greatest coefficient of the objective
PRECISE = 1e-9  # of the trust radius: feasibility tolerance of the rows


@dataclass(frozen=True)
class StepObjective:
    """What a step maximises, to first order."""

    slopes: Floats  # (n,) per mm of a stone's width
    penalties: Floats  # (n,) per mm that a stone lacks
    floors: Floats  # (n,) widths below which a stone lacks something; -inf: none
    targets: Floats | None = None  # (n,) the least ratio of width to target counts as well


@dataclass(frozen=True)
class Step:
    """The solution of the linear program."""

    stones: Floats  # (n, 8)
    cuts: Floats  # (c, 3)
    predicted_gain: float  # to first order


Block = tuple[Floats, int]
"""Coefficients (r, k) and the number of their first column."""
RowBlock = tuple[list[Block], Floats]
"""Rows made of blocks side by side, and their limits (r,)."""


def best_step(
    joint: JointProblem,
    at: Layout,
    radius: float,
    objective: StepObjective,
    parallel_map: ParallelMap,
) -> Step | None:
    """The best step within the trust radius; None where the solver finds none."""
    n, c = len(joint.stones), len(joint.cuts)
    by_stone = parallel_map(lambda k: _stone_rows(joint, at, k, radius), range(n))
    rows = [block for own in by_stone for block in own]
    rows += [_pair_rows(at, pair) for pair in joint.pairs]
    if joint.upright is not None:
        rows += _upright_rows(n, joint.upright)
    rows += [_floor_row(at, objective, k) for k in range(n) if np.isfinite(objective.floors[k])]
    width = STONE * n + CUT * c + 1
    if objective.targets is not None:
        rows += _ratio_rows(at, objective.targets, width - 1)
    matrix, limits = _sparse(rows, width)
    costs, reach = _costs(joint, objective, width), _reach(joint, radius, objective, width)
    # In units of the trust radius, so that the solver's own tolerance shrinks with the steps.
    best = _best_within(matrix, limits / radius, costs, reach / radius)
    if best is None:
        return None
    step = radius * best
    gain = float(costs @ step + objective.penalties @ at.shortfalls(objective.floors))
    return Step(step[: STONE * n].reshape(n, STONE), step[STONE * n : -1].reshape(c, CUT), gain)


def _best_within(matrix: Any, limits: Floats, costs: Floats, reach: Floats) -> Floats | None:
    """The x within ±reach with matrix·x <= limits and the greatest costs·x.

    Few rows are active at the solution, so the program begins with those of little slack, and rows
    that its solution violates are added until none is (constraint generation).
    """
    from scipy.optimize import linprog
    from scipy.sparse import hstack

    # Steps up and down are columns of their own, each at a price: at a vertex of the program, what
    # changes nothing would else move as far as it may, and stones would lean at random.
    scaled = -costs / np.abs(costs).max()
    scaled = np.concatenate([PRICE + scaled, PRICE - scaled])
    both_ways = hstack([matrix, -matrix], format="csr")
    bounds = np.column_stack([np.zeros(len(scaled)), np.tile(reach, 2)])
    options = {
        "presolve": False, "primal_feasibility_tolerance": PRECISE,
        "dual_feasibility_tolerance": PRECISE,
    }  # fmt: skip
    included = limits < FIRST
    while True:
        found = linprog(
            scaled, both_ways[included], limits[included], bounds=bounds, method="highs-ds",
            options=options,
        )  # fmt: skip
        if found.x is None:
            return None
        best = found.x[: len(costs)] - found.x[len(costs) :]
        violated = matrix @ best - limits > 10.0 * PRECISE
        if not np.any(violated & ~included):
            return np.asarray(best)
        included |= violated


def _stone_rows(joint: JointProblem, at: Layout, number: int, radius: float) -> list[RowBlock]:
    """The constraints of one stone: the rough and its demands, then each cut beside it."""
    stone, state = joint.stones[number], at.stones[number]
    growing, first = stone.problem.growing, STONE * number
    band = BAND * radius / min(g.pace for g in growing.growths)
    rows, limits = linear_rows(stone.problem, state, band)
    finite = np.isfinite(limits)  # a width without an upper end has a row as well
    blocks: list[RowBlock] = [([(rows[finite], first)], limits[finite])]
    for cut, side in stone.sides:
        column = STONE * len(joint.stones) + CUT * cut
        for growth in growing.near(state.sigma, band):
            of_stone, of_cut, room = _cut_rows(joint, at, number, growth, cut, side)
            near = room < NEAR_WALL * radius
            blocks.append(([(of_stone[near], first), (of_cut[near], column)], room[near]))
    return blocks


def _cut_rows(
    joint: JointProblem, at: Layout, number: int, growth: Growth, cut: int, side: float
) -> tuple[Floats, Floats, Floats]:
    """The stone's corners below (``side`` 1) or above (-1) a cut: coefficients (k, 8) of the stone
    and (k, 3) of the cut, and each corner's room (k,)."""
    state, plane, own = at.stones[number], at.planes[cut], joint.cuts[cut]
    arms = (growth.corners0 + growth.corners1 * state.sigma) @ state.rotation.T
    corners, normal = arms + state.translation, side * plane.normal
    of_stone = np.zeros((len(arms), STONE))
    of_stone[:, 0] = growth.corners1 @ state.rotation.T @ normal
    of_stone[:, 1:4] = normal
    of_stone[:, 4:7] = np.cross(arms, normal) / joint.stones[number].problem.mm_per_radian
    across = turning_z_to(plane.normal)[:, :2]
    of_cut = np.full((len(arms), CUT), -side)
    of_cut[:, 1:] = side * (corners - own.point) @ across / own.mm_per_radian
    return of_stone, of_cut, side * plane.offset - joint.allowance_mm - corners @ normal


def _pair_rows(at: Layout, pair: PairConstraint) -> RowBlock:
    """The widths of a pair agree within its tolerance."""
    one, other, tolerance = pair
    sign = np.array([[1.0], [-1.0]])
    differ = at.stones[one].sigma - at.stones[other].sigma
    limits = np.array([tolerance - differ, tolerance + differ])
    return [(sign, STONE * one), (-sign, STONE * other)], limits


def _upright_rows(stones: int, upright: Floats) -> Iterator[RowBlock]:
    """No stone turns about an axis square to ``upright`` (3,)."""
    square = turning_z_to(upright)[:, :2].T
    both = np.zeros((4, STONE))
    both[:, 4:7] = np.vstack([square, -square])
    for number in range(stones):
        yield [(both, STONE * number)], np.zeros(4)


def _floor_row(at: Layout, objective: StepObjective, number: int) -> RowBlock:
    """A stone's width plus its slack reaches its floor."""
    row = np.zeros((1, STONE))
    row[0, [0, STONE - 1]] = -1.0
    return [(row, STONE * number)], at.widths[[number]] - objective.floors[number]


def _ratio_rows(at: Layout, targets: Floats, last: int) -> list[RowBlock]:
    """The last column, a gain on the least ratio of width to target, exceeds no stone's own
    ratio."""
    ratios = at.widths / targets
    return [
        ([(np.array([[-1.0 / target]]), STONE * k), (np.ones((1, 1)), last)], room)
        for k, (target, room) in enumerate(
            zip(targets, (ratios - ratios.min())[:, None], strict=True)
        )
    ]


def _sparse(blocks: Sequence[RowBlock], width: int) -> tuple[Any, Floats]:
    """All rows, one under the other, as a sparse matrix of ``width`` columns; and their limits."""
    from scipy.sparse import csr_array

    rows, columns, values, start = [], [], [], 0
    for side_by_side, limits in blocks:
        for block, first in side_by_side:
            r, k = np.nonzero(block)
            rows.append(start + r)
            columns.append(first + k)
            values.append(block[r, k])
        start += len(limits)
    where = (np.concatenate(rows), np.concatenate(columns))
    matrix = csr_array((np.concatenate(values), where), shape=(start, width))
    return matrix, np.concatenate([limits for _, limits in blocks])


def _costs(joint: JointProblem, objective: StepObjective, width: int) -> Floats:
    """The objective's coefficient of each column, (width,)."""
    costs = np.zeros(width)
    stones = costs[: STONE * len(joint.stones)].reshape(-1, STONE)
    stones[:, 0] = objective.slopes
    stones[:, STONE - 1] = -objective.penalties
    costs[-1] = 0.0 if objective.targets is None else 1.0
    return costs


def _reach(joint: JointProblem, radius: float, objective: StepObjective, width: int) -> Floats:
    """How far each column may go either way, (width,)."""
    n, reach = len(joint.stones), np.full(width, radius)
    stones, cuts = reach[: STONE * n].reshape(n, STONE), reach[STONE * n : -1].reshape(-1, CUT)
    for k, stone in enumerate(joint.stones):
        stones[k, 0] = FAR * radius
        stones[k, STONE - 1] = FAR * stone.problem.mm_per_radian
    for columns, cut in zip(cuts, joint.cuts, strict=True):
        columns[1:] = 0.0 if cut.locked else radius
    reach[-1] = 0.0 if objective.targets is None else FAR * radius
    return reach
