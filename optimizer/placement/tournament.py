"""Judges very many poses at once, to find where the climbs of a search should begin."""

from collections.abc import Callable

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.best import Best
from optimizer.placement.climb import State
from optimizer.placement.containers import Planes
from optimizer.placement.ground import Ground
from optimizer.placement.growth import Growth
from optimizer.placement.kernels.cells import best_at_turns
from optimizer.placement.kernels.points import Facets, Site, tournament
from optimizer.placement.kernels.table import tournament_off_table
from optimizer.placement.kernels.thin import tournament_of_thin
from optimizer.placement.task import Task, Watch
from optimizer.running.workers import workers

BLOCK = 16  # rotations that one kernel call judges
ROUND = 8  # blocks judged against the same incumbent, whatever the number of workers

Judge = Callable[[Floats, float], tuple[Floats, Floats]]
"""From rotations (n, 3, 3), and a σ that is known: the best σ (n,) and its place (n, 3) of each."""


def best_in_planes(
    ground: Ground, planes: Planes, task: Task, watch: Watch, best: Best
) -> list[State]:
    """The best place at each rotation within the planes of a convex solid, best first: exact, but
    for walls."""
    growth = task.growing.growths[0]
    by_width = task.growing.fixed_width is None
    corners = growth.corners1 if by_width else growth.corners0
    reach = np.ptp(ground.fine, axis=0)
    most = float(reach.max() / np.ptp(corners, axis=0).min()) if by_width else reach.max()
    room = np.array([*reach, most])

    def judge(block: Floats, _: float) -> tuple[Floats, Floats]:
        return best_at_turns(  # type: ignore[no-any-return]
            planes.normals, planes.offsets - growth.margin0, corners, by_width, growth.margin1,
            block, room,
        )  # fmt: skip

    return _in_rounds(judge, task.rotations, watch, best)


def best_by_points(ground: Ground, task: Task, watch: Watch, best: Best) -> list[State]:
    """The best of all centres at each rotation, judged by points of the surface, best first."""
    site, growth = _site(ground, task), task.growing.growths[0]
    facets = _facets(growth)

    def judge(block: Floats, known: float) -> tuple[Floats, Floats]:
        if len(task.off_table):
            part = _facets(growth.under_table)
            gauges, which = tournament_off_table(
                site, task.off_table, block, facets, part, task.ceiling, known
            )
        else:
            gauges, which = tournament(site, block, facets, task.ceiling, known)
        return gauges, task.centres[which]

    return _in_rounds(judge, task.rotations, watch, best)


def best_by_faces(ground: Ground, task: Task, watch: Watch, best: Best) -> list[State]:
    """As ``best_by_points``, for a stone so thin that it slips between points: the faces of the
    coarse shell judge each pose as well."""
    if len(task.off_table):
        return best_by_points(ground, task, watch, best)
    site, facets = _site(ground, task), _facets(task.growing.growths[0])
    shell = ground.shells[0]

    def judge(block: Floats, known: float) -> tuple[Floats, Floats]:
        gauges, which = tournament_of_thin(
            site, shell.triangles, shell.boxes, block, facets, task.ceiling, known
        )
        return gauges, task.centres[which]

    return _in_rounds(judge, task.rotations, watch, best)


def _facets(growth: Growth) -> Facets:
    return Facets(growth.normals, growth.alpha, growth.beta)


def _site(ground: Ground, task: Task) -> Site:
    """The task's centres, and the points that tell of the surface and of flaws."""
    points = np.vstack([ground.coarse, task.obstacles])
    distances = np.linalg.norm(points[None] - task.centres[:, None], axis=2)
    return Site(points, task.centres, np.argsort(distances, axis=1))


def _in_rounds(judge: Judge, rotations: Floats, watch: Watch, best: Best) -> list[State]:
    """Judge all rotations, a round of blocks at a time; the best first, those that can't stand
    left out."""
    rotations = np.ascontiguousarray(rotations)
    blocks = [rotations[i : i + BLOCK] for i in range(0, len(rotations), BLOCK)]
    states: list[State] = []
    known = -np.inf
    with workers() as pool:
        for first in range(0, len(blocks), ROUND):
            if watch.stop():
                break
            batch = blocks[first : first + ROUND]
            judged = pool.map(judge, batch, [known] * len(batch))
            new = [
                State(float(gauge), rotation, place, 0.0)
                for block, answers in zip(batch, judged, strict=True)
                for rotation, gauge, place in zip(block, *answers, strict=True)
                if np.isfinite(gauge)
            ]
            states += new
            known = max([known, *(state.sigma for state in new)])
            width = max(map(best.consider, new), default=best.width)
            watch.progress("looking for places", first + len(batch), len(blocks), width)
    return sorted(states, key=lambda state: -state.sigma)
