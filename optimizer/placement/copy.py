"""The largest copy of a convex body in a container, turned and shifted freely."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from optimizer.design.model import Body
from optimizer.errors import InputError
from optimizer.mesh import Floats, outward_faces
from optimizer.placement.bound import widest
from optimizer.placement.bounding import bound_size
from optimizer.placement.given import container_given, corners_given
from optimizer.placement.ground import Ground, spread
from optimizer.placement.growing import growing_by_width
from optimizer.placement.hollows import Hollows
from optimizer.placement.model import Pose
from optimizer.placement.proof import MOST_CELLS, ProofTask
from optimizer.placement.search import EFFORTS, QUIET, Task, Watch, even_starts, search
from optimizer.running.stopping import interrupt_handled_by

HOLLOW_CELLS = 400_000  # of work for the bound in a hollow container, at most
NO_ROOM = (
    "no copy was found in the container: it is so thin that no place within was met; divide it or "
    "give a thicker one"
)


@dataclass(frozen=True)
class Fit:
    """x = ``translation`` + ``scale``·``rotation``·v carries the vertices into the container."""

    scale: float
    rotation: Floats  # (3, 3)
    translation: Floats  # (3,)
    bound: float | None  # no copy is larger than this; None where nothing is proved
    stopped: bool = False  # before its time: a larger copy, or a lower bound, may have been found


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
    vertices: Floats,
    container: Any,
    *,
    seed: int = 0,
    prove: bool = False,
    gap: float = 1e-6,
    watch: Watch = QUIET,
) -> Fit:
    """The largest copy of a convex body, given by its vertices (n, 3), inside ``container``.

    ``container`` is a closed ``trimesh.Trimesh``, convex or not; no skin is kept. The copy found
    is the best of many local optima, each refined to about 1e-12 relative. With ``prove``, an
    upper bound of the scale over all turns and shifts, as near to it as ``gap`` (relative) where
    the container is convex; in a hollow one as near as the work for it allows.

    A first Ctrl-C, or ``watch``, stops it: the copy and the bound are then those that it has by
    then. Raises KeyboardInterrupt where it has no copy yet, and at a second Ctrl-C; InputError, a
    ValueError, where the vertices span no volume or the container bounds no solid.
    """
    body, middle = convex_body(corners_given(vertices))
    mesh = container_given(container)
    with stoppable(watch) as watch:
        ground = Ground.of(mesh, watch.stop)
        effort = EFFORTS["quick" if ground.convex else "normal"]
        task = Task(
            growing_by_width(body, 0.0, 0.0),
            (),
            (),
            even_starts(effort.rotations, body.rotations, seed),
            spread(ground.places, ground.depths, effort.centres),
            np.inf,
        )
        found = search(ground, task, effort, watch)
        if not found and watch.stop():
            raise KeyboardInterrupt
        if not found:
            raise InputError(NO_ROOM)
        best = found[0]
        bound = _bound(body, ground, best.sigma, gap, watch) if prove else None
        stopped = watch.stop()
    pose = ground.scan_pose(Pose(best.sigma, best.rotation, best.translation))
    shift = pose.translation - best.sigma * pose.rotation @ middle
    return Fit(best.sigma, pose.rotation, shift, bound, stopped)


def _bound(body: Body, ground: Ground, found: float, gap: float, watch: Watch) -> float:
    hull, hollows = ground.hull, None
    if not ground.convex:
        hollows = Hollows.of(ground, hull, 0.0, ())
    budget = MOST_CELLS if hollows is None else HOLLOW_CELLS
    task = ProofTask(found, widest(body, hull), gap, budget)
    return bound_size(body, body.rotations, hull, hollows, task, watch=watch).bound


@contextmanager
def stoppable(watch: Watch) -> Iterator[Watch]:
    """The watch, which a first Ctrl-C stops as well once there is a copy; before that, and the
    second time, Ctrl-C raises KeyboardInterrupt."""
    pressed: list[object] = []
    widest = 0.0

    def on_interrupt(*signal: object) -> None:
        pressed.append(signal)
        if len(pressed) > 1 or widest == 0.0:
            raise KeyboardInterrupt

    def tell(stage: str, done: int, total: int, best: float) -> None:
        nonlocal widest
        widest = max(widest, best)
        watch.progress(stage, done, total, best)

    with interrupt_handled_by(on_interrupt):
        yield replace(watch, stop=lambda: bool(pressed) or watch.stop(), progress=tell)
