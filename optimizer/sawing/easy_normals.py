"""Normals of cuts that are easy to set up, with the words that say how such a cut runs."""

from collections.abc import Mapping, Sequence
from itertools import chain, combinations

import numpy as np

from optimizer.mesh import Floats, Plane, cross
from optimizer.placement.model import Pose
from optimizer.rough.model import ReferenceFace
from optimizer.sawing.faces import sawn_face
from optimizer.sawing.gap import PARALLEL, NamedNormal, without_twins
from optimizer.sawing.model import SawCut

SQUARE = 1e-6  # cosine
LEAST_TURN = 0.1  # sine of the angle between two flats that a cut square to both is set up by


def reference_normals(
    faces: Sequence[ReferenceFace], sawn: Sequence[tuple[int, Plane]]
) -> dict[str, Floats]:
    """Unit normals (3,) of cuts parallel to the rough's named faces and to the sawn faces of a
    piece (given as the cuts' indices and planes), and of cuts square to two of these faces, at
    least one of them sawn."""
    named = {f"the rough's {face.name}": face.plane.normal for face in faces}
    cut = {sawn_face(index): plane.normal for index, plane in sawn}
    normals = {f"parallel to {name}": normal for name, normal in (named | cut).items()}
    for (one, a), (other, b) in combinations((cut | named).items(), 2):
        across = cross(a, b)
        turn = float(np.linalg.norm(across))
        if one in cut and turn >= LEAST_TURN:
            normals[f"square to {one} and {other}"] = across / turn
    return normals


def run_of(normal: Floats, faces: Sequence[ReferenceFace], cuts: Sequence[SawCut]) -> str | None:
    """How a cut with this unit normal (3,) runs: parallel or square to one of the rough's named
    faces or of the earlier ``cuts``; None where it runs at another angle to all of them."""
    known = {f"the rough's {face.name}": face.plane.normal for face in faces}
    known |= {f"cut {number}": cut.plane.normal for number, cut in enumerate(cuts, 1)}
    cosines = {name: abs(float(other @ normal)) for name, other in known.items()}
    parallel = (f"parallel to {name}" for name, cosine in cosines.items() if cosine >= PARALLEL)
    square = (f"square to {name}" for name, cosine in cosines.items() if cosine <= SQUARE)
    return next(chain(parallel, square), None)


def separating_normals(
    faces: Sequence[ReferenceFace], cuts: Sequence[SawCut], tables: Mapping[int, Floats]
) -> tuple[NamedNormal, ...]:
    """Normals for a cut between stones, the best first: parallel to the rough's named faces, to
    earlier cuts, and to the tables of the stones (``tables``: indices and unit normals)."""
    flats = [(face.plane.normal, f"parallel to the rough's {face.name}") for face in faces]
    earlier = [
        (cut.plane.normal, f"parallel to cut {number}") for number, cut in enumerate(cuts, 1)
    ]
    along = [(up, f"parallel to the table of stone {i + 1}") for i, up in tables.items()]
    return without_twins([*flats, *earlier, *along])


def axis_normals(pose: Pose) -> dict[str, Floats]:
    """Unit normals (3,) along a stone's axes, scan frame, for the group that the stone is in."""
    names = (
        "square to the length of one of the stones",
        "square to the width of one of the stones",
        "parallel to the table of one of the stones",
    )
    return dict(zip(names, pose.rotation.T, strict=True))
