"""What a flat place looks like: a guess from measured angles alone.

Faces of a prism stand round one axis at sixty degrees to one another, a cleaved face lies along a
known cleavage plane, and saw cuts are parallel or square to each other. A flat without any of these
signs may still be any of the three, and a block sawn to sixty degrees looks like a prism. So these
are guesses, and are called guesses.
"""

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from optimizer.mesh import Floats, Plane

# Species whose crystals are six-sided or three-sided prisms round the c axis (from memory of the
# usual handbooks); other faces that they grow are not recognised.
SIXFOLD = ("quartz", "beryl", "corundum", "tourmaline", "apatite")
WITHIN_DEG = 1.5  # natural prism faces are truer than this; scan and fit need the rest
SAWN_DEG = 0.7  # how true a saw with a fence cuts, about (common practice, no source)
FEWEST = 3  # faces round one axis: two may stand at sixty degrees by chance

PRISM = "a prism face, perhaps"
CLEAVED = "cleaved, perhaps"
SAWN = "sawn, perhaps"


def looks_of(planes: Sequence[Plane], species: str, cleavage: Sequence[Floats]) -> tuple[str, ...]:
    """A guess for each plane, "" where nothing shows; ``cleavage``: normals (3,), either way."""
    normals = [plane.normal for plane in planes]
    prism = prism_faces(normals) if species in SIXFOLD else ()
    looks = []
    for k, normal in enumerate(normals):
        others = [other for j, other in enumerate(normals) if j != k]
        if k in prism:
            looks.append(PRISM)
        elif any(_off(normal, plane, 0.0) < WITHIN_DEG for plane in cleavage):
            looks.append(CLEAVED)
        elif _sawn(normal, others):
            looks.append(SAWN)
        else:
            looks.append("")
    return tuple(looks)


def _sawn(normal: Floats, others: Sequence[Floats]) -> bool:
    """Whether a face is parallel to another one, or square to two that are square to each other."""
    if any(_off(normal, other, 0.0) < SAWN_DEG for other in others):
        return True
    square = [other for other in others if _off(normal, other, 90.0) < SAWN_DEG]
    return any(_off(one, two, 90.0) < SAWN_DEG for one, two in combinations(square, 2))


def prism_faces(normals: Sequence[Floats]) -> tuple[int, ...]:
    """The numbers of the faces that stand round one axis at multiples of sixty degrees, in at least
    three directions; of several such sets the largest; empty where there is none."""
    best: tuple[int, ...] = ()
    for one, two in combinations(range(len(normals)), 2):
        if min(_off(normals[one], normals[two], turn) for turn in (60.0, 120.0)) > WITHIN_DEG:
            continue
        axis = np.cross(normals[one], normals[two])
        axis /= np.linalg.norm(axis)
        mine = tuple(
            k
            for k, normal in enumerate(normals)
            if _off(normal, axis, 90.0) < WITHIN_DEG
            and min(_off(normal, normals[one], turn) for turn in (0.0, 60.0, 120.0)) < WITHIN_DEG
        )
        ways = {round(_turn(normals[one], normals[k], axis) / 60.0) % 3 for k in mine}
        if len(mine) >= FEWEST and len(ways) == FEWEST and len(mine) > len(best):
            best = mine
    return best


def _off(one: Floats, other: Floats, turn_deg: float) -> float:
    """Degrees by which the angle between two directions, either way, differs from ``turn_deg``."""
    angle = float(np.degrees(np.arccos(np.clip(one @ other, -1.0, 1.0))))
    return min(abs(angle - turn_deg), abs(180.0 - angle - turn_deg))


def _turn(start: Floats, end: Floats, axis: Floats) -> float:
    """Degrees from one direction to another about an axis."""
    return float(np.degrees(np.arctan2(axis @ np.cross(start, end), start @ end)))
