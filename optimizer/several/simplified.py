"""Cuts that are simple to set up, and so what simplicity costs: the division with every cut square
or parallel to what a saw can be set by, its stones and the cuts' places fitted anew."""

from collections.abc import Sequence

import numpy as np

from optimizer.mesh import Floats, Plane
from optimizer.placement.search import Watch
from optimizer.several.cuts import cuts_of, sides_of, with_cuts
from optimizer.several.joined import Site
from optimizer.several.model import Division
from optimizer.several.refine import refine

PARALLEL_DEG = 10.0  # nearer than this to a known face, a cut becomes parallel to it; our choice


def simplified(
    site: Site, division: Division, flats: Sequence[Floats], *, effort: str, watch: Watch
) -> Division | None:
    """Every cut turned parallel or square to one of ``flats`` (unit normals (3,), scan frame) or
    to a cut before it, whichever is near; from there on only its offset moves.

    Without flats the first cut stays as it is. None where the stones don't fit so.
    """
    known, planes = list(flats), []
    for number, plane in enumerate(cuts_of(division.fork)):
        normal = _set_by(plane.normal, known)
        known.append(normal)
        planes.append(Plane.through(_middle(division, number, plane), normal))
    snapped = Division(division.stones, with_cuts(division.fork, planes))
    return refine(site, snapped, effort=effort, watch=watch, locked=range(len(planes)))


def _set_by(normal: Floats, known: Sequence[Floats]) -> Floats:
    """The nearest direction along one of ``known``, where one is close, or else square to one."""
    if not known:
        return normal
    cosines = np.array(known) @ normal
    nearest = int(np.argmax(np.abs(cosines)))
    if abs(cosines[nearest]) >= np.cos(np.radians(PARALLEL_DEG)):
        return np.asarray(known[nearest] * np.sign(cosines[nearest]))
    squarest = int(np.argmin(np.abs(cosines)))
    aside = normal - cosines[squarest] * known[squarest]
    return np.asarray(aside / np.linalg.norm(aside))


def _middle(division: Division, cut: int, plane: Plane) -> Floats:
    """The point of a cut amid its stones (3,): where it stays when it turns."""
    beside = [k for k, sides in sides_of(division.fork) if any(c == cut for c, _ in sides)]
    centre = np.mean([division.stones[k].placement.pose.translation for k in beside], axis=0)
    return np.asarray(centre - (plane.normal @ centre - plane.offset) * plane.normal)
