"""The largest copy of a convex body in a container, turned and shifted freely."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from optimizer.design.model import Body
from optimizer.errors import InputError
from optimizer.mesh import Floats, Mesh, outward_faces
from optimizer.placement.bound import widest
from optimizer.placement.bounding import bound_size
from optimizer.placement.ground import Ground, spread
from optimizer.placement.growing import growing_by_width
from optimizer.placement.hollows import Hollows
from optimizer.placement.proof import MOST_CELLS
from optimizer.placement.search import EFFORTS, Task, Watch, even_starts, search

HOLLOW_CELLS = 400_000  # of work for the bound in a hollow container, at most


@dataclass(frozen=True)
class Fit:
    """x = ``translation`` + ``scale``·``rotation``·v carries the vertices into the container."""

    scale: float
    rotation: Floats  # (3, 3)
    translation: Floats  # (3,)
    bound: float | None  # no copy is larger than this; None where nothing is proved


def convex_body(vertices: Floats) -> tuple[Body, Floats]:
    """The convex hull of points (n, 3) as a body about an inner point: (body, that point).

    Raises InputError where the points do not span a volume.
    """
    from scipy.spatial import ConvexHull, QhullError

    try:
        hull = ConvexHull(vertices)
    except (QhullError, ValueError) as error:
        raise InputError("the vertices do not span a convex body; give at least 4, not flat") from (
            error
        )
    corners = vertices[hull.vertices]
    middle = corners.mean(axis=0)
    corners = np.ascontiguousarray(corners - middle)
    order = np.argsort(hull.vertices)
    faces = order[np.searchsorted(hull.vertices[order], outward_faces(vertices, hull))]
    equations = hull.equations
    _, first, which = np.unique(
        np.round(equations, 9), axis=0, return_index=True, return_inverse=True
    )
    normals = np.ascontiguousarray(equations[first, :3])
    offsets = (normals @ corners.T).max(axis=1)
    body = Body(
        normals,
        offsets,
        corners,
        np.ascontiguousarray(faces, np.int64),
        np.asarray(which, np.int64).ravel(),
        tuple(f"facet {i + 1}" for i in range(len(first))),
        np.eye(3)[None],
        0.0,
        0.0,
    )
    return body, middle


def largest_copy(
    vertices: Floats, container: Any, *, seed: int = 0, prove: bool = False, gap: float = 1e-6
) -> Fit:
    """The largest copy of a convex body, given by its vertices (n, 3), inside ``container``.

    ``container`` is a closed ``trimesh.Trimesh``, convex or not; no skin is kept. The copy found
    is the best of many local optima, each refined to about 1e-12 relative. With ``prove``, an
    upper bound of the scale over all turns and shifts, as near to it as ``gap`` (relative) where
    the container is convex; in a hollow one as near as the work for it allows.
    """
    vertices = np.asarray(vertices, float)
    body, middle = convex_body(vertices)
    mesh = Mesh(np.asarray(container.vertices, float), np.asarray(container.faces, np.int64))
    ground = Ground.of(mesh)
    effort = EFFORTS["quick" if ground.convex else "normal"]
    task = Task(
        growing_by_width(body, 0.0, 0.0),
        (),
        (),
        even_starts(effort.rotations, body.rotations, seed),
        spread(ground.places, ground.depths, effort.centres),
        np.inf,
    )
    best = search(ground, task, effort, Watch())[0]
    rotation = ground.ground2scan @ best.rotation
    translation = ground.origin + ground.ground2scan @ best.translation
    bound = _bound(body, ground, best.sigma, gap) if prove else None
    return Fit(best.sigma, rotation, translation - best.sigma * rotation @ middle, bound)


def _bound(body: Body, ground: Ground, found: float, gap: float) -> float:
    hull, hollows = ground.hull, None
    if not ground.convex:
        hollows = Hollows.of(ground, hull, 0.0, ())
    proof = bound_size(
        body, body.rotations, hull, hollows, found=found, most=widest(body, hull), gap=gap,
        budget=MOST_CELLS if hollows is None else HOLLOW_CELLS,
    )  # fmt: skip
    return proof.bound
