"""Compiled linear programs of the nodes of branch and bound: few rows at a time, proven values."""

from typing import NamedTuple

import numpy as np

from optimizer.compiled import compiled
from optimizer.mesh import Floats, Ints
from optimizer.placement.kernels.linear import inverse_of, linear_program, proven_value
from optimizer.placement.kernels.rows import put

UNKNOWNS = 7  # place, size, turn times twice the size
BASE = 14  # rows of every program: the box, the sizes, the cell's sides
WORKING = 160  # rows in use at most
AT_ONCE = 8  # rows taken into use at a time, none missed by less than half of the worst
RAY = 1e6  # how far along an infeasible program's ray its proof is read


class Program(NamedTuple):
    """A node's program: the rows in use, and the hull's rows, taken into use as they are missed."""

    rows: Floats  # (WORKING, 7)
    limits: Floats  # (WORKING,)
    hull_rows: Floats  # (r, 7)
    hull_limits: Floats  # (r,)
    counts: Ints  # (2,) rows in use, hull rows
    reach: Floats  # (7,) bounds of |x|
    x: Floats  # (7,) where the last program ended
    basis: Ints  # (7,) its basis


@compiled
def start_program(program, node, extra):
    """The box, the sizes, the cell's sides and the demands' rows ``extra`` (e, 5)."""
    rows, limits = program.rows, program.limits
    rows[:BASE] = 0.0
    for k in range(3):
        rows[2 * k, k], rows[2 * k + 1, k] = 1.0, -1.0
        limits[2 * k], limits[2 * k + 1] = node.half[k], node.half[k]
    rows[6, 3], rows[7, 3] = 1.0, -1.0
    limits[6], limits[7] = node.high, -node.low
    for f in range(6):
        put(rows[8 + f, 4:], node.sides[f, :3])
        rows[8 + f, 3] = -2.0 * node.sides[f, 3]
        limits[8 + f] = 0.0
    for e in range(extra.shape[0]):
        rows[BASE + e] = 0.0
        put(rows[BASE + e], extra[e, :4])
        limits[BASE + e] = extra[e, 4] - extra[e, :3] @ node.middle
    program.counts[0] = BASE + extra.shape[0]
    put(program.reach, node.half)
    program.reach[3] = node.high
    program.reach[4:] = 2.0 * np.tan(0.5 * node.radius) * node.high


@compiled
def keep_what_matters(program, node):
    """Drop the hull rows that every stone of the node meets."""
    rows, limits = program.hull_rows, program.hull_limits
    kept = 0
    for r in range(program.counts[1]):
        most = node.high * rows[r, 3]
        for k in range(3):
            most += abs(rows[r, k]) * node.half[k]
        turn = rows[r, 4] * rows[r, 4] + rows[r, 5] * rows[r, 5] + rows[r, 6] * rows[r, 6]
        if most + program.reach[4] * np.sqrt(turn) > limits[r]:
            put(rows[kept], rows[r])
            limits[kept] = limits[r]
            kept += 1
    program.counts[1] = kept


@compiled
def take_row(program, row, limit):
    """Take a row into use, where there is room."""
    if program.counts[0] < WORKING:
        put(program.rows[program.counts[0]], row)
        program.limits[program.counts[0]] = limit
        program.counts[0] += 1


@compiled
def _take_missed(program, trifle):
    """Take the hull rows into use that x misses by most: whether there are any."""
    rows, limits, x = program.hull_rows, program.hull_limits, program.x
    over = np.empty(program.counts[1])
    worst = trifle
    for r in range(program.counts[1]):
        total = -limits[r]
        for k in range(UNKNOWNS):
            total += rows[r, k] * x[k]
        over[r] = total
        worst = max(worst, total)
    if worst <= trifle or program.counts[0] == WORKING:
        return False
    taken = 0
    for r in range(program.counts[1]):
        if over[r] >= 0.5 * worst and taken < AT_ONCE:
            take_row(program, rows[r], limits[r])
            taken += 1
    return True


@compiled
def highest(program, unknown, sign, cold, trifle):
    """The proven greatest sign·x[unknown]: (value, whether x is where it is taken on).

    ``cold``: from the box, the sizes and the sides; else from the last program's basis, which was
    of the same unknown.
    """
    rows, limits, basis = program.rows, program.limits, program.basis
    first = np.array([0, 2, 4, 6, 8, 10, 12])
    if sign < 0.0:
        first[unknown] = 2 * unknown + 1
    if cold:
        put(basis, first)
    # An objective a trace off the true one keeps the multipliers from all being zero.
    trace = np.array([1e-9, 1.3e-9, 0.7e-9, 1.5e-9, 1.1e-9, 0.9e-9, 1.2e-9])
    trace[unknown] = 1.0
    tilted = np.zeros(UNKNOWNS)
    for i in range(UNKNOWNS):
        tilted += trace[i] * rows[first[i]]
    objective = np.zeros(UNKNOWNS)
    objective[unknown] = sign
    basis_rows = np.empty((UNKNOWNS, UNKNOWNS))
    value = program.reach[unknown]
    while True:
        used = program.counts[0]
        for i in range(UNKNOWNS):
            put(basis_rows[i], rows[basis[i]])
        x, ended, y, state = linear_program(
            rows[:used], limits[:used], tilted, basis, inverse_of(basis_rows)
        )
        put(basis, ended)
        multipliers = np.zeros(used)
        for i in range(UNKNOWNS):
            multipliers[basis[i]] = max(y[i], 0.0)
        if state >= 3:  # nothing left: along the ray the proven value falls below anything
            for i in range(UNKNOWNS):
                multipliers[basis[i]] += max(-x[i], 0.0) * RAY
            multipliers[state - 3] += RAY
        proven = proven_value(rows[:used], limits[:used], objective, multipliers, program.reach)
        value = min(value, proven)
        if state != 0:
            return value, False
        put(program.x, x)
        if not _take_missed(program, trifle):
            return value, True
