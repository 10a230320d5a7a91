"""A surface that passes through itself: resolved where it does so in small folds, else refused."""

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Ints, Mesh, volume
from optimizer.rough.model import Repair
from optimizer.rough.repair.crossing import crossing_pairs
from optimizer.rough.repair.distance import farthest
from optimizer.rough.repair.edges import edges_of, faces_across
from optimizer.rough.repair.exact import UnclearError
from optimizer.rough.repair.mend import Mended, counted
from optimizer.rough.repair.untangle import untangle
from optimizer.rough.repair.words import areas_mm2, longest_mm, mm, percent, place
from optimizer.wording.plain_number import plain

MOST_AREA_SHARE = 0.05  # of the surface that folds may take up
DEEPEST_SHARE = 0.02  # of the longest side: how deep a fold may reach
HAIR = 1e-13  # of the longest side: what double precision resolves
_SHARP = 1e-4  # of the longest side: how sharply depths are measured
_MOST_PAIRS = 5000  # of crossing triangles; the exact arithmetic takes its time


def resolve_folds(mesh: Mesh, tolerance: float, name: str) -> Mended:
    """The mesh with its folds resolved, where a closed surface passes through itself by more than
    ``tolerance`` mm. Raises InputError where the damage is more than small folds."""
    pairs = crossing_pairs(mesh, tolerance)
    if not len(pairs):
        return Mended(mesh)
    if len(pairs) > _MOST_PAIRS:
        raise _refused(mesh, pairs, name, "far too many to be folds of a scan")
    # Once the surface is cut at all, it must be cut wherever it crosses itself, however shallowly.
    every = crossing_pairs(mesh, HAIR * longest_mm(mesh))
    try:
        done = untangle(mesh, faces_across(edges_of(mesh)), every)
    except UnclearError:
        raise _refused(mesh, pairs, name, "what is inside there can't be told") from None
    if not len(done.dropped):  # edges that pass each other within the tolerance, and don't cross
        return Mended(mesh)
    area = float(areas_mm2(done.dropped).sum())
    share = area / float(areas_mm2(mesh.triangles).sum())
    depth = farthest(done.dropped, done.mesh.triangles, _SHARP * longest_mm(mesh))
    if share > MOST_AREA_SHARE or depth > DEEPEST_SHARE * longest_mm(mesh):
        why = f"the folds reach {mm(depth)} deep and make up {percent(share)} of the surface"
        raise _refused(mesh, pairs, name, why)
    before, after = volume(mesh), volume(done.mesh)
    sentence = (
        f"folds in which {counted(len(pairs), 'pair')} of triangles crossed resolved: "
        f"{plain(area, 3)} mm² or {percent(share)} of the surface, up to {mm(depth)} from what is "
        f"kept, left out; the volume changes by {'+' if after > before else ''}"
        f"{plain(100.0 * (after / before - 1.0), 2)} %"
    )
    places = done.dropped.mean(axis=1)
    doubt = (
        f"where folds were resolved, the surface may lie {mm(depth)} deeper (the first about "
        f"{place(places[0])}); a plan warns where its stone comes near"
    )
    repair = Repair(sentence, places, area, depth, "a fold was resolved")
    return Mended(done.mesh, (repair,), (doubt,))


def _refused(mesh: Mesh, pairs: Ints, name: str, why: str) -> InputError:
    corners = mesh.triangles[np.unique(pairs)].reshape(-1, 3)
    spread = float(np.ptp(corners, axis=0).max())
    middle = mesh.triangles[pairs[0]].reshape(-1, 3).mean(axis=0)
    return InputError(
        f"{name}: the surface passes through itself: {counted(len(pairs), 'pair')} of triangles "
        f"cross (the first at {place(middle)}; all within {spread:.2f} mm of each other), and "
        f"{why}; mend self-intersections in the scan software, or rescan the piece there"
    )
