"""Does the surface pass through itself?

Every triangle is tried against those whose boxes it meets, found through a tree of boxes. Two
triangles cross where an edge of one runs clearly through the inside of the other, or two edges meet
between their ends at an angle; neighbours may touch in what they share.

"Clearly" means by more than ``tolerance``: what the file's own numbers resolve. A crossing that is
shallower comes from rounding the file and lies far below the scan error.
"""

from collections.abc import Iterable

import numpy as np

from optimizer.boxes.tree import box_tree
from optimizer.errors import InputError
from optimizer.mesh import Floats, Ints, Mesh
from optimizer.rough.kernels.crossing import search
from optimizer.rough.repair.budget import BudgetSpentError
from optimizer.rough.repair.mend import counted
from optimizer.rough.repair.words import place
from optimizer.rough.scale.units import longest_side
from optimizer.running.workers import workers

_BATCH = 4096  # leaves in one call of the kernel, which returns often so that Ctrl-C is answered
_MOST_FOUND = 100_000  # crossing pairs; scans with far fewer are refused already
_MOST_TRIED, _TRIED_EACH = 20_000_000, 100  # pairs in all, pairs a triangle; scans need 30 each


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
    """The resolution of a file's coordinates (n, 3), in their unit: a millionth of the longest
    side, or, if that is more, four rounding steps at the farthest coordinate, in single precision
    where all numbers are single-precision ones."""
    own = 1e-6 * longest_side(points)
    farthest = float(np.abs(points).max())
    with np.errstate(over="ignore"):
        single = bool((points.astype(np.float32) == points).all())
    return max(own, farthest * (2.0**-21 if single else 2.0**-50))


def crossing_pairs(mesh: Mesh, tolerance: float) -> Ints:
    """Pairs (k, 2) of faces, sorted, that pass through each other by more than ``tolerance`` mm.

    Raises BudgetSpentError where they are too many, or too many have to be tried.
    """
    # Relative to the mesh's own centre the numbers are small, so the arithmetic loses no digits.
    tree = box_tree(mesh.vertices - mesh.vertices.mean(axis=0), mesh.faces)
    faces, last = np.ascontiguousarray(mesh.faces[tree.order]), _last_leaves(tree.leaves)

    def batch(start: int) -> tuple[Ints, int]:
        end = min(start + _BATCH, tree.leaves)
        pairs, tried = search(
            tree.triangles, faces, tree.boxes, last, start, end, tolerance,
            np.int64(_MOST_FOUND), np.int64(_MOST_TRIED),
        )  # fmt: skip
        return np.asarray(pairs), int(tried)

    starts = range(0, tree.leaves, _BATCH)
    if len(starts) == 1:
        return _in_order(tree.order[_within_budget([batch(0)], len(faces))])
    with workers() as pool:  # the kernel lets other threads run
        try:
            found = _within_budget(pool.map(batch, starts), len(faces))
        except BudgetSpentError:
            pool.shutdown(cancel_futures=True)
            raise
    return _in_order(tree.order[found])


def _last_leaves(leaves: int) -> Ints:
    """The last leaf under each node of a tree of boxes, (2·leaves − 1,)."""
    levels = [np.arange(leaves)]
    while len(levels[0]) > 1:
        levels.insert(0, levels[0][1::2])
    return np.concatenate(levels)


def _in_order(pairs: Ints) -> Ints:
    """Pairs (k, 2) with the lower number first, sorted, so that no tree decides their order."""
    pairs = np.sort(pairs, axis=1)
    return np.asarray(pairs[np.lexsort(pairs.T[::-1])])


def _within_budget(batches: Iterable[tuple[Ints, int]], faces: int) -> Ints:
    """All pairs together. Raises BudgetSpentError as soon as the batches have cost too much."""
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


def _spent(why: str) -> BudgetSpentError:
    return BudgetSpentError(
        "looking for places where the surface passes through itself",
        why,
        "mend self-intersections and remesh the surface evenly in the scan software, or rescan the "
        "piece",
    )
