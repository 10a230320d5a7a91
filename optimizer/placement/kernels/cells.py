"""Compiled bounds over cells of rotations, one linear program a cell."""

import numpy as np

from optimizer.compiled import compiled
from optimizer.placement.kernels.linear import inverse_of, linear_program, proven_value
from optimizer.placement.kernels.rows import put

RAY = 1e6  # how far along an infeasible program's ray its proof is read


@compiled
def hold_corner(n, corner, length, bend, skew, row):
    """Put down the last four numbers, of s and u, of the row that keeps a corner below a plane with
    normal ``n`` in the frame of the cell's middle: see ``cell_rows``."""
    along = n[0] * corner[0] + n[1] * corner[1] + n[2] * corner[2]
    row[3] = along - 0.5 * bend * (along + length) - skew * length
    row[4] = corner[1] * n[2] - corner[2] * n[1]
    row[5] = corner[2] * n[0] - corner[0] * n[2]
    row[6] = corner[0] * n[1] - corner[1] * n[0]


@compiled
def cell_rows(normals, offsets, corners, lengths, rotation, radius, A, b):
    """Rows over (t, s, u) that every copy with a rotation in the cell meets: (how many).

    R = R0·C(g), u = 2·s·g, g the rotation's axis times the tangent of half its angle θ. Then
    n·R·v >= n'·v + 2g·(v × n') − (1 − cos r)(n'·v + |v|)/2 − (2 tan(r/2) − sin r)|v| with
    n' = R0ᵀn, since C(g)v = v + sin θ a×v + (1 − cos θ) a×(a×v) and n'·a a·v >= (n'·v − |v|)/2.
    Corners that cannot be the farthest along n anywhere in the cell get no row.
    """
    bend = 1.0 - np.cos(radius)
    skew = 2.0 * np.tan(radius / 2.0) - np.sin(radius)
    swing = 2.0 * np.sin(radius / 2.0)
    count = 0
    along = np.empty(corners.shape[0])
    n = np.empty(3)
    for j in range(normals.shape[0]):
        for k in range(3):
            n[k] = (
                normals[j, 0] * rotation[0, k]
                + normals[j, 1] * rotation[1, k]
                + normals[j, 2] * rotation[2, k]
            )
        least = -np.inf
        for v in range(corners.shape[0]):
            along[v] = n[0] * corners[v, 0] + n[1] * corners[v, 1] + n[2] * corners[v, 2]
            least = max(least, along[v] - swing * lengths[v])
        for v in range(corners.shape[0]):
            if along[v] + swing * lengths[v] < least or count == A.shape[0]:
                continue
            for k in range(3):
                A[count, k] = normals[j, k]
            hold_corner(n, corners[v], lengths[v], bend, skew, A[count])
            b[count] = offsets[j]
            count += 1
    return count


@compiled
def cell_bounds(normals, offsets, corners, lengths, rotations, radii, sides, reach, extra):
    """For each cell of rotations a proven upper bound of the size of any copy of the body.

    ``sides`` (c, 6, 4): the cell is {g : sides[:, :3]·g <= sides[:, 3]}; ``reach`` (7,) bounds
    |t|, s and |u|; ``extra`` (c, e, 5) more rows (t, s; limit) that hold in the cell. Returns
    bounds (c,) and the linear programs' places t (c, 3) and sizes s (c,).
    """
    cells = rotations.shape[0]
    more = extra.shape[1]
    room = normals.shape[0] * corners.shape[0]
    A = np.zeros((14 + more + room, 7))
    b = np.zeros(14 + more + room)
    objective = np.zeros(7)
    objective[3] = 1.0
    bounds = np.empty(cells)
    places = np.zeros((cells, 3))
    sizes = np.zeros(cells)
    start = np.array([0, 2, 4, 6, 8, 10, 12])
    basis_rows = np.empty((7, 7))
    for c in range(cells):
        A[:14] = 0.0
        for k in range(3):  # rows 0 to 5: |t| within reach
            A[2 * k, k] = 1.0
            A[2 * k + 1, k] = -1.0
            b[2 * k] = reach[k]
            b[2 * k + 1] = reach[k]
        A[6, 3] = 1.0  # rows 6 and 7: 0 <= s <= reach
        A[7, 3] = -1.0
        b[6] = reach[3]
        b[7] = 0.0
        for f in range(6):  # rows 8 to 13: the cell's sides, three of which span the directions
            for k in range(3):
                A[8 + f, 4 + k] = sides[c, f, k]
            A[8 + f, 3] = -2.0 * sides[c, f, 3]
            b[8 + f] = 0.0
        for e in range(more):
            for k in range(4):
                A[14 + e, k] = extra[c, e, k]
            b[14 + e] = extra[c, e, 4]
        used = cell_rows(
            normals,
            offsets,
            corners,
            lengths,
            rotations[c],
            radii[c],
            A[14 + more :],
            b[14 + more :],
        )
        used += 14 + more
        for i in range(7):
            put(basis_rows[i], A[start[i]])
        # An objective a trace off the true one keeps the multipliers from all being zero.
        trace = np.array([1e-9, 1.3e-9, 0.7e-9, 1.0, 1.1e-9, 0.9e-9, 1.2e-9])
        tilted = trace @ basis_rows
        x, basis, y, state = linear_program(
            A[:used], b[:used], tilted, start, inverse_of(basis_rows)
        )
        multipliers = np.zeros(used)
        for i in range(7):
            multipliers[basis[i]] = max(y[i], 0.0)
        if state >= 3:  # no copy at all: far along the ray, the proven value falls below nothing
            for i in range(7):
                multipliers[basis[i]] += max(-x[i], 0.0) * RAY
            multipliers[state - 3] = RAY
            x[:] = 0.0
        value = proven_value(A[:used], b[:used], objective, multipliers, reach)
        bounds[c] = min(value, reach[3])
        put(places[c], x[:3])
        sizes[c] = x[3]
    return bounds, places, sizes


@compiled
def best_at_turns(normals, offsets, corners, grows, margin_pace, rotations, reach):
    """For each rotation the greatest σ at just this turn: σ (n,) and places (n, 3).

    A linear program in shift and σ. With ``grows`` the corners (k, 3) are scaled by σ, else they
    stay; the margin grows by ``margin_pace``·σ. ``reach`` (4,) bounds |t| and σ.
    """
    planes = normals.shape[0]
    A = np.zeros((7 + planes, 4))
    b = np.empty(7 + planes)
    for k in range(3):
        A[2 * k, k], A[2 * k + 1, k] = 1.0, -1.0
        b[2 * k], b[2 * k + 1] = reach[k], reach[k]
    A[6, 3], b[6] = 1.0, reach[3]
    start = np.array([0, 2, 4, 6])
    # A trace of the shifts in the objective keeps the multipliers from all being zero.
    objective = np.array([1e-9, 1.3e-9, 0.7e-9, 1.0])
    sizes = np.full(rotations.shape[0], -np.inf)
    places = np.zeros((rotations.shape[0], 3))
    for r in range(rotations.shape[0]):
        turned = normals @ rotations[r]
        for j in range(planes):
            support = -np.inf
            for v in range(corners.shape[0]):
                support = max(
                    support,
                    turned[j, 0] * corners[v, 0]
                    + turned[j, 1] * corners[v, 1]
                    + turned[j, 2] * corners[v, 2],
                )
            put(A[7 + j], normals[j])
            A[7 + j, 3] = margin_pace + (support if grows else 0.0)
            b[7 + j] = offsets[j] - (0.0 if grows else support)
        x, _, _, state = linear_program(A, b, objective, start, np.eye(4))
        if state == 0:
            sizes[r] = x[3]
            put(places[r], x[:3])
    return sizes, places
