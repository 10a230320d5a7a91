"""A first upper bound on the stone: no convex body in a convex body passes any of these measures.

The stone lies in a convex space: the rough's convex hull with every face moved inwards by the
skin. Volume, surface, mean width, greatest extent and inscribed sphere never shrink from a convex
body to a larger one that holds it (volume, surface and mean width are the intrinsic volumes;
Schneider, Convex Bodies: The Brunn-Minkowski Theory, section 5.1), so the width at which the
first of them is passed bounds every placement, whatever the turn and shift.
"""

import numpy as np

from optimizer.design.model import Body
from optimizer.mesh import Floats, Ints, cross, lengths, outward_faces, vector_areas
from optimizer.placement.containers import Planes

OUTWARD = 1e-9  # relative allowance for rounding in the measures, on the safe side
BISECTIONS = 60


def widest(body: Body, space: Planes) -> float:
    """No copy of ``body`` inside ``space`` is wider; 0 where there is no room at all."""
    room = _room(space.normals, space.offsets)
    if room is None:
        return 0.0
    greatest = room * (1.0 + OUTWARD)

    def fits(width: float) -> bool:
        return bool(np.all(_measures(body.vertices_at(width), body.faces) <= greatest))

    low, high = 0.0, 1.0
    while fits(high):
        low, high = high, 2.0 * high
    for _ in range(BISECTIONS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if fits(middle) else (low, middle)
    return high


def _room(normals: Floats, offsets: Floats) -> Floats | None:
    """The measures of {x : normals·x <= offsets}; None where it is empty."""
    from scipy.optimize import linprog
    from scipy.spatial import ConvexHull, HalfspaceIntersection

    deepest = linprog(
        [0.0, 0.0, 0.0, -1.0],
        A_ub=np.column_stack([normals, np.ones(len(normals))]),
        b_ub=offsets,
        bounds=[(None, None)] * 3 + [(0.0, None)],
    )
    if deepest.status != 0 or deepest.x[3] <= 0.0:
        return None
    halfspaces = np.column_stack([normals, -offsets])
    corners = HalfspaceIntersection(halfspaces, deepest.x[:3]).intersections
    hull = ConvexHull(corners)
    measures = _measures(corners, outward_faces(corners, hull))
    measures[-1] = deepest.x[3]
    return measures


def _measures(corners: Floats, faces: Ints) -> Floats:
    """Volume, surface, mean width, greatest extent, and (a lower bound of) the inscribed radius."""
    triangles = corners[faces] - corners.mean(axis=0)
    along = vector_areas(triangles)
    sizes = lengths(along)
    heights = np.einsum("ij,ij->i", triangles[:, 0], along)
    return np.array(
        [
            heights.sum() / 3.0,
            sizes.sum(),
            mean_width(corners, faces, along / sizes[:, None]),
            _greatest_extent(corners),
            (heights / sizes).min(),
        ]
    )


def mean_width(corners: Floats, faces: Ints, normals: Floats) -> float:
    """Mean width of a convex polyhedron: edge lengths times their turning angles, over 4π."""
    edges = np.vstack([faces[:, [k, (k + 1) % 3]] for k in range(3)])
    owner = np.tile(np.arange(len(faces)), 3)
    order = np.lexsort((edges.max(axis=1), edges.min(axis=1)))
    first, second = order[0::2], order[1::2]
    cosine = np.einsum("ij,ij->i", normals[owner[first]], normals[owner[second]])
    sine = np.linalg.norm(cross(normals[owner[first]], normals[owner[second]]), axis=1)
    sides = lengths(corners[edges[first, 0]] - corners[edges[first, 1]])
    return float((sides * np.arctan2(sine, cosine)).sum() / (4.0 * np.pi))


def _greatest_extent(corners: Floats) -> float:
    from scipy.spatial.distance import pdist

    return float(pdist(corners).max())
