"""From the best poses of the grids to candidates: stones that lie exactly in the rough."""

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from optimizer.mesh import Floats
from optimizer.offers.offer import Offer
from optimizer.placement.climb import Problem, State, climb, stand
from optimizer.placement.containers import CentreInside, Container, Planes, Points
from optimizer.placement.ground import Ground
from optimizer.placement.model import Placement, Pose
from optimizer.placement.place import as_placement
from optimizer.placement.search import COARSE, EXACT, FINE, Climbing, Watch, planes_for
from optimizer.running.workers import workers
from optimizer.several.instance import Instance
from optimizer.several.model import Candidate, PlacedStone
from optimizer.several.pose_grids import PoseGrid, RemainingPoses
from optimizer.several.trial_cuts import ALONG, TrialPiece

NEAR = 0.75  # of the worth of a piece's best stone of a wish: lesser offers are not tried there
STARTS = 3  # climbs of an offer in a piece, each from another rotation, on the coarse stand-in
OVER = 1.02  # of the greatest width ordered: stand-ins leave a little more room than there is
KEPT = 2  # so many of the climbs go on, on the fine stand-in

NARROW = 0.75  # of the least width ordered: a stone that is so wide may still be helped

Price = Callable[[Offer, float], float]  # worth of a stone by its width
Job = tuple[PoseGrid, RemainingPoses, TrialPiece]


def candidates(
    ground: Ground,
    grids: Sequence[PoseGrid],
    pieces: Sequence[TrialPiece],
    price: Price,
    watch: Watch,
    most: int,
) -> list[tuple[TrialPiece, list[Candidate]]]:
    """The best stones of each wish in each piece, exact on the whole surface, some narrower than
    ordered. At most ``most``
    offers are placed: those nearest in worth to the best of their wish and piece."""
    ranked = [one for piece in pieces for one in _jobs(grids, piece, price)]
    nearest = sorted(range(len(ranked)), key=lambda k: -ranked[k][0])[:most]
    jobs = [ranked[k][1] for k in sorted(nearest)]
    found: list[list[Candidate]] = []
    with workers() as pool:
        stones = pool.map(lambda job: _stones(ground, job, price, watch), jobs)
        for done, some in enumerate(stones, 1):
            found.append(some)
            watch.progress("placing stones", done, len(jobs), 0.0)
    return list(zip((piece for _, _, piece in jobs), found, strict=True))


def _jobs(
    grids: Sequence[PoseGrid], piece: TrialPiece, price: Price
) -> Iterator[tuple[float, Job]]:
    """The offers worth a try in a piece, each with its share of the worth of the best there."""
    for grid, left in zip(grids, piece.left, strict=True):
        if len(left.widths):
            worth = price(grid.offer, float(left.widths[0]))
            best = float(piece.worths[grid.wish])
            if worth >= NEAR * best:
                yield worth / best if best else 0.0, (grid, left, piece)


def _stones(ground: Ground, job: Job, price: Price, watch: Watch) -> list[Candidate]:
    """Stones found by climbs from an offer's best poses in a piece, some narrower than ordered."""
    if watch.stop():
        return []
    grid, left, piece = job
    task = grid.task
    walls = (*task.walls, *_walls(piece, grid.skin_mm))
    radius = float(np.linalg.norm(task.growing.corners(float(left.widths[0])), axis=1).max())
    ceiling = OVER * task.ceiling

    def climbed(states: Sequence[State], how: Climbing, *rough: Container) -> list[State]:
        problem = Problem(task.growing, (*rough, *walls), task.demands, radius, ceiling)
        ends = [
            climb(
                problem, stand(problem, s.rotation, s.translation, -np.inf),
                radius=how.radius * radius, tolerance=how.tolerance * radius, steps=how.steps,
            )
            for s in states
        ]  # fmt: skip
        return sorted(ends, key=lambda s: -s.merit)

    states = list(_starts(grid, left))
    planes = planes_for(ground, task)
    if planes is not None:
        states = climbed(states, COARSE, planes)[:KEPT]
        states = climbed(states, EXACT, planes)
    else:
        inside = CentreInside(ground.surface)
        states = climbed(states, COARSE, Points(ground.coarse), inside)[:KEPT]
        states = climbed(states, FINE, Points(ground.fine), inside)
    low, high = grid.offer.want.width_mm
    exact = Problem(task.growing, (ground.surface, *walls), task.demands, radius, high)
    states = [stand(exact, s.rotation, s.translation, NARROW * low) for s in states]
    return [
        _candidate(ground, grid, state, price)
        for state in states
        if state.sigma > NARROW * low and state.met
    ]


def _walls(piece: TrialPiece, skin_mm: float) -> tuple[Planes, ...]:
    """The cuts beside a piece. Every container adds the skin, so it is taken off here."""
    if not piece.walls:
        return ()
    normals = np.array([wall.normal for wall in piece.walls])
    return (Planes(normals, np.array([wall.offset for wall in piece.walls]) + skin_mm),)


def _starts(grid: PoseGrid, left: RemainingPoses) -> Iterator[State]:
    """The best poses, each with another rotation."""
    used: list[int] = []
    for pose, width in zip(left.poses, left.widths, strict=True):
        number = int(grid.rotations[pose])
        if number not in used:
            used.append(number)
            yield State(float(width), *grid.pose(int(pose)), 0.0)
        if len(used) == STARTS:
            return


def square_stones(
    instance: Instance, grids: Sequence[PoseGrid], piece: TrialPiece, way: Floats
) -> list[Candidate]:
    """For each grid the largest stone in a piece, by the grid alone, that lies square to a frame
    with its table square to ``way`` (3,), ground's frame."""
    found = []
    for grid, left in zip(grids, piece.left, strict=True):
        numbers = grid.rotations[left.poses]
        along = np.abs(way @ grid.task.rotations[:, :, 2].T) > ALONG
        square = np.flatnonzero((numbers >= grid.square) & along[numbers])[:1]
        for at in square[left.widths[square] > 0.0]:
            width = min(float(left.widths[at]), grid.offer.want.width_mm[1])
            pose = Pose(width, *grid.pose(int(left.poses[at])))
            placement = Placement(grid.offer.want.body, instance.ground.scan_pose(pose), 0.0)
            found.append(instance.candidate(PlacedStone(grid.wish, grid.offer, placement)))
    return found


def _candidate(ground: Ground, grid: PoseGrid, state: State, price: Price) -> Candidate:
    placement = as_placement(ground, grid.offer.want, state)
    return Candidate(
        PlacedStone(grid.wish, grid.offer, placement),
        price(grid.offer, placement.pose.width),
    )


def distinct(found: Sequence[Candidate]) -> tuple[Candidate, ...]:
    """The candidates, most worth first, without those whose pose, wish and design are those of
    another."""
    kept: dict[tuple[object, ...], Candidate] = {}
    for one in sorted(found, key=lambda c: -c.worth):
        pose = one.stone.placement.pose
        numbers = *np.round([*pose.translation, *pose.rotation[:, 2]], 2), round(pose.width, 4)
        kept.setdefault((one.stone.wish, one.stone.offer.design.name, *numbers), one)
    return tuple(kept.values())
