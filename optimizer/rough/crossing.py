"""Does the surface pass through itself?

Every triangle is tried against those whose boxes it meets, found through a tree of boxes. Two
triangles cross where an edge of one runs clearly through the inside of the other, or two edges meet
between their ends at an angle; neighbours may touch in what they share.

"Clearly" means by more than ``tolerance``: what the file's own numbers resolve. A crossing that is
shallower comes from rounding the file and lies far below the scan error.
"""

import math
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from optimizer.compiled import compiled

from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints, Mesh
from optimizer.rough.box_tree import LEAF, box_tree
from optimizer.rough.mend import counted
from optimizer.rough.repair.budget import SpentError
from optimizer.rough.repair.words import place
from optimizer.rough.units import longest_side

_WORKERS = 2
_BATCH = 4096  # leaves a call: a compiled kernel returns often, so that Ctrl-C is answered
_MOST_FOUND = 100_000  # pairs; far fewer are refused already
_MOST_TRIED, _TRIED_EACH = 20_000_000, 100  # pairs in all and a triangle; scans need some 30 each
_LEAST_SINE = 1e-2  # edges that meet at a smaller angle lie along each other


def refuse_crossing(mesh: Mesh, name: str, tolerance: float) -> None:
    """Raises InputError where the surface passes through itself by more than ``tolerance`` mm, with
    how much and where."""
    pairs = crossing_pairs(mesh, tolerance)
    if not len(pairs):
        return
    touched = np.unique(pairs)
    corners = mesh.triangles[touched].reshape(-1, 3)
    spread = float(np.ptp(corners, axis=0).max())
    middle = mesh.triangles[pairs[0]].reshape(-1, 3).mean(axis=0)
    raise InputError(
        f"{name}: the surface passes through itself: {counted(len(pairs), 'pair')} of triangles "
        f"cross (the first at {place(middle)}; all within {spread:.2f} mm of each other); mend "
        "self-intersections in the scan software"
    )


def resolution(points: Floats) -> float:
    """What a file's coordinates (n, 3) resolve, in their unit: a millionth of the longest side, or,
    if that is more, four steps at the farthest coordinate, of single precision where all numbers
    are single-precision ones."""
    own = 1e-6 * longest_side(points)
    farthest = float(np.abs(points).max())
    with np.errstate(over="ignore"):
        single = bool((points.astype(np.float32) == points).all())
    return max(own, farthest * (2.0**-21 if single else 2.0**-50))


def crossing_pairs(mesh: Mesh, tolerance: float) -> Ints:
    """Pairs (k, 2) of faces that pass through each other by more than ``tolerance`` mm.

    Raises SpentError where they are too many, or too many have to be tried.
    """
    # Near its own centre the numbers are small, so that the arithmetic loses nothing.
    tree = box_tree(mesh.triangles - mesh.vertices.mean(axis=0), tolerance)
    faces = np.ascontiguousarray(mesh.faces[tree.order])

    def search(start: int) -> tuple[Ints, int]:
        end = min(start + _BATCH, tree.leaves)
        pairs, tried = _search(
            tree.corners, faces, tree.low, tree.high, tree.last, start, end, tolerance,
            np.int64(_MOST_FOUND), np.int64(_MOST_TRIED),
        )  # fmt: skip
        return np.asarray(pairs), int(tried)

    starts = range(0, tree.leaves, _BATCH)
    if len(starts) == 1:
        return np.sort(tree.order[_within_budget([search(0)], len(faces))], axis=1)
    with ThreadPoolExecutor(_WORKERS) as pool:  # the kernel lets other threads run
        try:
            found = _within_budget(pool.map(search, starts), len(faces))
        except SpentError:
            pool.shutdown(cancel_futures=True)
            raise
    return np.sort(tree.order[found], axis=1)


def _within_budget(batches: Iterable[tuple[Ints, int]], faces: int) -> Ints:
    """All pairs together. Raises SpentError as soon as the batches have cost too much."""
    kept, found, tried = [], 0, 0
    most = _MOST_TRIED + _TRIED_EACH * faces
    for pairs, count in batches:
        kept.append(pairs)
        found, tried = found + len(pairs), tried + count
        if found >= _MOST_FOUND:
            raise _spent(f"over {_MOST_FOUND:,} pairs of triangles cross")
        if tried >= most or count >= _MOST_TRIED:
            raise _spent(f"over {_MOST_TRIED:,} pairs of triangles lie close together")
    return np.vstack(kept)


def _spent(why: str) -> SpentError:
    return SpentError(
        "looking for places where the surface passes through itself",
        why,
        "mend self-intersections and remesh the surface evenly in the scan software, or rescan the "
        "piece",
    )


@compiled
def _search(  # type: ignore[no-untyped-def]
    corners, faces, low, high, last, first_leaf, end_leaf, tol, most_found, most_tried
):
    """(crossing pairs whose first triangle lies in the given leaves, (k, 2) in Morton order; how
    many were tried), as far as the most allowed of either."""
    found = [(0, 0) for _ in range(0)]
    width = (len(low) + 1) // 2
    stack = np.empty(128, np.int64)
    tried = 0
    for leaf in range(first_leaf, end_leaf):
        own = width - 1 + leaf
        stack[0], depth = 0, 1
        while depth > 0 and len(found) < most_found and tried < most_tried:
            depth -= 1
            node = stack[depth]
            if last[node] < leaf or _apart(low[node], high[node], low[own], high[own]):
                continue
            if node >= width - 1:
                tried += _try_leaves(corners, faces, leaf, node - width + 1, tol, found)
            else:
                stack[depth], stack[depth + 1] = 2 * node + 1, 2 * node + 2
                depth += 2
    pairs = np.empty((len(found), 2), np.int64)
    for k in range(len(found)):
        pairs[k, 0], pairs[k, 1] = found[k]
    return pairs, tried


@compiled
def _try_leaves(corners, faces, leaf, other, tol, found):  # type: ignore[no-untyped-def]
    """Adds the crossing pairs of two leaves to ``found``; how many pairs lie close together."""
    count, tried = len(corners), 0
    for i in range(leaf * LEAF, min(leaf * LEAF + LEAF, count)):
        for j in range(max(i + 1, other * LEAF), min(other * LEAF + LEAF, count)):
            if _boxes_apart(corners[i], corners[j], tol) or _shared(faces[i], faces[j]) > 1:
                continue
            tried += 1
            if _cross(corners[i], corners[j], tol):
                found.append((i, j))
    return tried


@compiled
def _apart(low, high, low2, high2):  # type: ignore[no-untyped-def]
    for k in range(3):  # noqa: SIM110 (numba compiles no generators)
        if low[k] > high2[k] or high[k] < low2[k]:
            return True
    return False


@compiled
def _boxes_apart(a, b, tol):  # type: ignore[no-untyped-def]
    for k in range(3):
        if min(a[0, k], a[1, k], a[2, k]) > max(b[0, k], b[1, k], b[2, k]) + tol:
            return True
        if max(a[0, k], a[1, k], a[2, k]) < min(b[0, k], b[1, k], b[2, k]) - tol:
            return True
    return False


@compiled
def _shared(f, g):  # type: ignore[no-untyped-def]
    n = 0
    for i in range(3):
        for j in range(3):
            n += f[i] == g[j]
    return n


@compiled
def _cross(a, b, tol):  # type: ignore[no-untyped-def]
    """Do triangles ``a`` and ``b`` (3, 3) pass through each other by more than ``tol``?"""
    n_a, solid_a = _unit_normal(a, tol)
    n_b, solid_b = _unit_normal(b, tol)
    if (solid_b and _one_side(a, b[0], n_b, tol)) or (solid_a and _one_side(b, a[0], n_a, tol)):
        return False
    if (solid_b and _pierces(a, b, n_b, tol)) or (solid_a and _pierces(b, a, n_a, tol)):
        return True
    for i in range(3):
        for j in range(3):
            if _edges_meet(a[i], a[(i + 1) % 3], b[j], b[(j + 1) % 3], tol):
                return True
    return False


@compiled
def _dot(u, v):  # type: ignore[no-untyped-def]
    return u[0] * v[0] + u[1] * v[1] + u[2] * v[2]


@compiled
def _times(u, v):  # type: ignore[no-untyped-def]
    return (u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0])


@compiled
def _less(u, v):  # type: ignore[no-untyped-def]
    return (u[0] - v[0], u[1] - v[1], u[2] - v[2])


@compiled
def _unit_normal(t, tol):  # type: ignore[no-untyped-def]
    """(normal, whether the triangle is wider than ``tol`` everywhere it counts)."""
    e, f, g = _less(t[1], t[0]), _less(t[2], t[0]), _less(t[2], t[1])
    n = _times(e, f)
    area2 = math.sqrt(_dot(n, n))
    longest = math.sqrt(max(_dot(e, e), _dot(f, f), _dot(g, g)))
    if area2 <= 2.0 * tol * longest:
        return (0.0, 0.0, 0.0), False
    return (n[0] / area2, n[1] / area2, n[2] / area2), True


@compiled
def _one_side(t, origin, n, tol):  # type: ignore[no-untyped-def]
    """Does ``t`` lie clear of the plane, all of it on one side?"""
    d0, d1, d2 = (
        _dot(_less(t[0], origin), n), _dot(_less(t[1], origin), n), _dot(_less(t[2], origin), n),
    )  # fmt: skip
    return min(d0, d1, d2) > tol or max(d0, d1, d2) < -tol


@compiled
def _pierces(t, b, n, tol):  # type: ignore[no-untyped-def]
    """Does an edge of ``t`` go from beyond one side of ``b`` to beyond the other, through it?"""
    for i in range(3):
        p, q = t[i], t[(i + 1) % 3]
        d_p, d_q = _dot(_less(p, b[0]), n), _dot(_less(q, b[0]), n)
        if (d_p > tol and d_q < -tol) or (d_p < -tol and d_q > tol):
            s = d_p / (d_p - d_q)
            x = (p[0] + s * (q[0] - p[0]), p[1] + s * (q[1] - p[1]), p[2] + s * (q[2] - p[2]))
            if _well_inside(x, b, n, tol):
                return True
    return False


@compiled
def _well_inside(x, b, n, tol):  # type: ignore[no-untyped-def]
    for i in range(3):
        e = _less(b[(i + 1) % 3], b[i])
        inward = _times(n, e)
        if _dot(_less(x, b[i]), inward) <= tol * math.sqrt(_dot(e, e)):
            return False
    return True


@compiled
def _edges_meet(p, q, r, s, tol):  # type: ignore[no-untyped-def]
    """Do segments pq and rs meet within ``tol``, both clearly between their ends, at an angle?"""
    u, v, w = _less(q, p), _less(s, r), _less(p, r)
    uu, uv, vv, uw, vw = _dot(u, u), _dot(u, v), _dot(v, v), _dot(u, w), _dot(v, w)
    det = uu * vv - uv * uv
    if det <= _LEAST_SINE * _LEAST_SINE * uu * vv:
        return False
    i, j = (uv * vw - vv * uw) / det, (uu * vw - uv * uw) / det
    margin = 2.0 * tol * math.sqrt(uu * vv / det)
    own, other = margin / math.sqrt(uu), margin / math.sqrt(vv)
    if not (own < i < 1.0 - own and other < j < 1.0 - other):
        return False
    gap = (w[0] + i * u[0] - j * v[0], w[1] + i * u[1] - j * v[1], w[2] + i * u[2] - j * v[2])
    return _dot(gap, gap) <= tol * tol
