"""Small dense linear programs, compiled: few unknowns, many rows."""

import numpy as np

from optimizer.compiled import compiled

PIVOTS = 600  # of one program; tens are the rule


@compiled
def linear_program(A, b, c, start, basis_inverse):
    """Greatest c·x with A·x <= b by the dual simplex method (few columns, many rows).

    ``start`` (n,) holds n rows whose inverse is ``basis_inverse`` (n, n) and whose multipliers
    c·basis_inverse are not negative. Returns (x, basis, multipliers, state): state 0 solved,
    2 stopped at ``PIVOTS``, 3 + r infeasible, since row r is the sum of the basis rows
    times x, no part of x being positive.
    """
    m, n = A.shape
    basis = start.copy()
    inverse = basis_inverse.copy()
    y = np.empty(n)
    x = np.empty(n)
    w = np.empty(n)
    for j in range(n):
        total = 0.0
        for k in range(n):
            total += c[k] * inverse[k, j]
        y[j] = total
    for _ in range(PIVOTS):
        for k in range(n):
            total = 0.0
            for j in range(n):
                total += inverse[k, j] * b[basis[j]]
            x[k] = total
        entering = -1
        worst = 0.0
        for r in range(m):
            excess = -b[r]
            for k in range(n):
                excess += A[r, k] * x[k]
            tolerance = 1e-13 * (1.0 + abs(b[r]))
            if excess > tolerance and excess > worst:
                worst = excess
                entering = r
        if entering < 0:
            return x, basis, y, 0
        largest = 0.0
        for j in range(n):
            total = 0.0
            for k in range(n):
                total += A[entering, k] * inverse[k, j]
            w[j] = total
            largest = max(largest, abs(total))
        leaving = -1
        ratio = np.inf
        for j in range(n):
            if w[j] > 1e-11 * largest:
                candidate = max(y[j], 0.0) / w[j]
                if candidate < ratio or (candidate == ratio and w[j] > w[leaving]):
                    ratio = candidate
                    leaving = j
        if leaving < 0:
            return w, basis, y, 3 + entering
        pivot = w[leaving]
        for j in range(n):
            if j != leaving:
                y[j] -= ratio * w[j]
                share = w[j] / pivot
                for k in range(n):
                    inverse[k, j] -= share * inverse[k, leaving]
        for k in range(n):
            inverse[k, leaving] /= pivot
        y[leaving] = ratio
        basis[leaving] = entering
    return x, basis, y, 2


@compiled
def inverse_of(matrix):
    """The inverse of a small square matrix, which is used up (Gauss and Jordan, with pivots)."""
    n = matrix.shape[0]
    inverse = np.eye(n)
    for k in range(n):
        pivot = k
        for i in range(k + 1, n):
            if abs(matrix[i, k]) > abs(matrix[pivot, k]):
                pivot = i
        for j in range(n):
            matrix[k, j], matrix[pivot, j] = matrix[pivot, j], matrix[k, j]
            inverse[k, j], inverse[pivot, j] = inverse[pivot, j], inverse[k, j]
        scale = 1.0 / matrix[k, k]
        for j in range(n):
            matrix[k, j] *= scale
            inverse[k, j] *= scale
        for i in range(n):
            factor = matrix[i, k]
            if i != k and factor != 0.0:
                for j in range(n):
                    matrix[i, j] -= factor * matrix[k, j]
                    inverse[i, j] -= factor * inverse[k, j]
    return inverse


@compiled
def best_step(rows, limits, objective, box):
    """The step within ±``box`` (n,) that meets rows·x <= limits and has the greatest
    objective·x. Returns (x, multipliers of the rows, whether it is solved)."""
    m, n = rows.shape
    A = np.zeros((m + 2 * n, n))
    b = np.empty(m + 2 * n)
    for r in range(m):
        for k in range(n):
            A[r, k] = rows[r, k]
        b[r] = limits[r]
    start = np.empty(n, np.int64)
    inverse = np.zeros((n, n))
    c = np.empty(n)
    for k in range(n):
        A[m + 2 * k, k] = 1.0
        A[m + 2 * k + 1, k] = -1.0
        b[m + 2 * k] = box[k]
        b[m + 2 * k + 1] = box[k]
        # A trace of every variable in the objective keeps the multipliers from all being zero,
        # where the method could go in circles.
        c[k] = objective[k] + 1e-11 * (1.0 + 0.1 * k) * (1.0 if k % 2 == 0 else -1.0)
        start[k] = m + 2 * k if c[k] >= 0.0 else m + 2 * k + 1
        inverse[k, k] = 1.0 if c[k] >= 0.0 else -1.0
    x, basis, y, state = linear_program(A, b, c, start, inverse)
    multipliers = np.zeros(m)
    for k in range(n):
        if basis[k] < m:
            multipliers[basis[k]] = y[k]
    return x, multipliers, state == 0


@compiled
def proven_value(A, b, objective, y, reach):
    """A value that objective·x does not pass on {A·x <= b, |x| <= reach}, whatever the rounding.

    Any multipliers y >= 0 prove y·b + Σ|objective − Aᵀy|·reach; each sum is moved outwards by
    more than its terms' rounding (Neumaier and Shcherbina, Safe bounds in linear and mixed-integer
    linear programming, 2004).
    """
    m, n = A.shape
    total = 0.0
    size = 0.0
    for r in range(m):
        if y[r] > 0.0:
            total += y[r] * b[r]
            size += abs(y[r] * b[r])
    for k in range(n):
        rest = objective[k]
        scale = abs(objective[k])
        for r in range(m):
            if y[r] > 0.0:
                rest -= y[r] * A[r, k]
                scale += abs(y[r] * A[r, k])
        rest = abs(rest) + (m + 2) * 2.3e-16 * scale
        total += rest * reach[k]
        size += rest * reach[k]
    return total + (m + n + 2) * 2.3e-16 * size
