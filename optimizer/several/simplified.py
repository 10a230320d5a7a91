"""Cuts that are simple to set up, and so the price of simplicity: every cut turned square or
parallel to something a saw can be set by, then stones and cut offsets refined again."""

from collections.abc import Sequence

import numpy as np

from optimizer.mesh import Floats, Plane
from optimizer.placement.search import Watch
from optimizer.several.cut_tree import cuts_of, sides_of, with_cuts
from optimizer.several.instance import Instance
from optimizer.several.model import Division
from optimizer.several.refine import refine

PARALLEL_DEG = 10.0  # a cut nearer than this to a known face becomes parallel to it; our choice


def simplified(
    instance: Instance,
    division: Division,
    flats: Sequence[Floats],
    *,
    effort: str,
    watch: Watch,
) -> Division | None:
    """Every cut turned parallel or square to one of ``flats`` (unit normals (3,), scan frame) or
    to a cut before it, whichever takes less of a turn; after that only its offset moves.

    Without flats the first cut keeps its direction. None where the stones don't fit between such
    cuts.
    """
    known, planes = list(flats), []
    for number, plane in enumerate(cuts_of(division.cut_tree)):
        normal = _simple_normal(plane.normal, known)
        known.append(normal)
        planes.append(Plane.through(_pivot(division, number, plane), normal))
    snapped = Division(division.stones, with_cuts(division.cut_tree, planes))
    return refine(instance, snapped, effort=effort, watch=watch, locked=range(len(planes)))


def _simple_normal(normal: Floats, known: Sequence[Floats]) -> Floats:
    """The nearest direction parallel to one of ``known``, where one is close, or else square to
    one."""
    if not known:
        return normal
    cosines = np.array(known) @ normal
    nearest = int(np.argmax(np.abs(cosines)))
    if abs(cosines[nearest]) >= np.cos(np.radians(PARALLEL_DEG)):
        return np.asarray(known[nearest] * np.sign(cosines[nearest]))
    squarest = int(np.argmin(np.abs(cosines)))
    aside = normal - cosines[squarest] * known[squarest]
    return np.asarray(aside / np.linalg.norm(aside))


def _pivot(division: Division, cut: int, plane: Plane) -> Floats:
    """The point (3,) of a cut amid its stones, about which the cut turns."""
    beside = [k for k, sides in sides_of(division.cut_tree) if any(c == cut for c, _ in sides)]
    centre = np.mean([division.stones[k].placement.pose.translation for k in beside], axis=0)
    return np.asarray(centre - (plane.normal @ centre - plane.offset) * plane.normal)
