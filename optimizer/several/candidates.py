"""From the poses that the soundings found best to stones that lie exactly in the rough."""

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from optimizer.offers.offer import Offer
from optimizer.placement.climb import Problem, State, climb, stand
from optimizer.placement.containers import Container, Planes, Points, Within
from optimizer.placement.ground import Ground
from optimizer.placement.place import as_placement
from optimizer.placement.search import COARSE, EXACT, FINE, WORKERS, Climbing, Watch, planes_for
from optimizer.placement.workers import workers
from optimizer.several.model import Candidate, PlacedStone
from optimizer.several.soundings import RemainingPoses, Sounding
from optimizer.several.trial_cuts import TrialPiece

NEAR = 0.75  # of the worth of a part's best stone of a wish: offers below it are not tried there
STARTS = 3  # climbs of an offer in a part, each from another rotation, against the coarse stand-in
OVER = 1.02  # of the greatest width ordered: stand-ins leave a little more room than there is
KEPT = 2  # of them climb on, against the fine one

Price = Callable[[Offer, float], float]  # worth of a stone by its width
Job = tuple[Sounding, RemainingPoses, TrialPiece]


def candidates(
    ground: Ground,
    soundings: Sequence[Sounding],
    parts: Sequence[TrialPiece],
    price: Price,
    watch: Watch,
    most: int,
) -> tuple[Candidate, ...]:
    """The best stones of each wish in each part, exact on the whole surface; ``most`` offers laid,
    those that come nearest to the best of their wish and part."""
    ranked = [one for part in parts for one in _jobs(soundings, part, price)]
    nearest = sorted(range(len(ranked)), key=lambda k: -ranked[k][0])[:most]
    jobs = [ranked[k][1] for k in sorted(nearest)]
    found: list[Candidate] = []
    with workers(WORKERS) as pool:
        stones = pool.map(lambda job: _stones(ground, job, price, watch), jobs)
        for done, some in enumerate(stones, 1):
            found += some
            watch.progress("laying stones", done, len(jobs), 0.0)
    return distinct(found)


def _jobs(
    soundings: Sequence[Sounding], part: TrialPiece, price: Price
) -> Iterator[tuple[float, Job]]:
    """The offers worth a try in a part, and what share of its best's worth each has."""
    for sounding, left in zip(soundings, part.left, strict=True):
        if len(left.widths):
            worth = price(sounding.offer, float(left.widths[0]))
            best = float(part.worths[sounding.wish])
            if worth >= NEAR * best:
                yield worth / best if best else 0.0, (sounding, left, part)


def _stones(ground: Ground, job: Job, price: Price, watch: Watch) -> list[Candidate]:
    """Climb from an offer's best poses in a part."""
    if watch.stop():
        return []
    sounding, left, part = job
    task = sounding.task
    walls = (*task.walls, *_walls(part, sounding.skin_mm))
    corners = task.growing.corners(float(left.widths[0]))
    lever = float(np.linalg.norm(corners, axis=1).max())
    ceiling = OVER * task.ceiling

    def climbed(states: Sequence[State], how: Climbing, *rough: Container) -> list[State]:
        problem = Problem(task.growing, (*rough, *walls), task.demands, lever, ceiling)
        ends = [
            climb(
                problem, stand(problem, s.rotation, s.translation, -np.inf),
                radius=how.radius * lever, tolerance=how.tolerance * lever, steps=how.steps,
            )
            for s in states
        ]  # fmt: skip
        return sorted(ends, key=lambda s: -s.merit)

    states = list(_starts(sounding, left))
    planes = planes_for(ground, task)
    if planes is not None:
        states = climbed(states, COARSE, planes)[:KEPT]
        states = climbed(states, EXACT, planes)
    else:
        inside = Within(ground.surface)
        states = climbed(states, COARSE, Points(ground.coarse), inside)[:KEPT]
        states = climbed(states, FINE, Points(ground.fine), inside)
    low, high = sounding.offer.want.width_mm
    exact = Problem(task.growing, (ground.surface, *walls), task.demands, lever, high)
    states = [stand(exact, s.rotation, s.translation, low) for s in states]
    return [
        _candidate(ground, sounding, state, price)
        for state in states
        if state.sigma >= max(low, 0.0) and state.met
    ]


def _walls(part: TrialPiece, skin_mm: float) -> tuple[Planes, ...]:
    """The cuts beside a part, the skin taken off, which every container adds."""
    if not part.walls:
        return ()
    normals = np.array([wall.normal for wall in part.walls])
    return (Planes(normals, np.array([wall.offset for wall in part.walls]) + skin_mm),)


def _starts(sounding: Sounding, left: RemainingPoses) -> Iterator[State]:
    """The best poses, each of another rotation."""
    seen: list[int] = []
    for pose, width in zip(left.poses, left.widths, strict=True):
        turn = int(sounding.turns[pose])
        if turn not in seen:
            seen.append(turn)
            rotation = np.ascontiguousarray(sounding.task.rotations[turn])
            centre = sounding.task.centres[sounding.centres[pose]]
            yield State(float(width), rotation, centre, 0.0)
        if len(seen) == STARTS:
            return


def _candidate(ground: Ground, sounding: Sounding, state: State, price: Price) -> Candidate:
    placement = as_placement(ground, sounding.offer.want, state)
    return Candidate(
        PlacedStone(sounding.wish, sounding.offer, placement),
        price(sounding.offer, placement.pose.width),
    )


def distinct(found: Sequence[Candidate]) -> tuple[Candidate, ...]:
    """Without those that lie as another of the same wish and design does; most worth first."""
    kept: dict[tuple[object, ...], Candidate] = {}
    for one in sorted(found, key=lambda c: -c.worth):
        pose = one.laid.placement.pose
        numbers = *np.round([*pose.translation, *pose.rotation[:, 2]], 2), round(pose.width, 4)
        kept.setdefault((one.laid.wish, one.laid.offer.design.name, *numbers), one)
    return tuple(kept.values())
