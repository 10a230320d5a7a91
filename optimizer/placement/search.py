"""Global search: a tournament of poses, then climbs from the best distinct ones."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.best import Best
from optimizer.placement.climb import Problem, State, climb, stand
from optimizer.placement.containers import CentreInside, Container, Planes, Points
from optimizer.placement.flat_rows import FlatSurface
from optimizer.placement.ground import Ground
from optimizer.placement.growing import Growing, growing_by_width
from optimizer.placement.rotations import even_rotations, one_of_each_orbit, random_rotation, turn
from optimizer.placement.situation import Situation
from optimizer.placement.task import QUIET as QUIET
from optimizer.placement.task import Task as Task
from optimizer.placement.task import Watch as Watch
from optimizer.placement.tournament import best_by_faces, best_by_points, best_in_planes
from optimizer.running.workers import workers

Rough = tuple[Container, ...]
"""The rough, or what stands in for it."""
STOPPED_WITH = 8  # states that a stage still judges when it begins after a stop
SLIPS = 2.0  # a stone thinner than so many spacings of the points may slip between them
LOOKED = 8  # starts whose true size says how thin the stone is
FEW_TRIANGLES = 2000  # up to here a surface is as exact as its planes
# of the stone's half length: a climb from the best start doesn't bring its facets in by more
HOPELESS = 0.15
# Climbs within a few planes are quick: so many times as many as within a surface. With as many, two
# of 45 items of 60 corners lost up to 0.17 % of the weight at quick; with twice as many, none.
PLANE_CLIMBS = 2
SAME = 0.01  # radians, or share of the stone's half length: closer is the same place


@dataclass(frozen=True)
class Climbing:
    """How far a climb goes: the first trust radius as a share of the stone's half length,
    the tolerance as a share of σ, and the most steps."""

    radius: float
    tolerance: float
    steps: int


COARSE = Climbing(0.2, 1e-3, 15)
FINE = Climbing(0.05, 1e-4, 20)
SETTLING = Climbing(0.02, 1e-4, 8)
FINISHING = Climbing(0.02, 1e-9, 60)  # a scan: to well below what any caliper reads
EXACT = Climbing(0.02, 1e-13, 60)  # a few planes or triangles: to the last bit


@dataclass(frozen=True)
class Effort:
    """A work budget, never a clock."""

    rotations: int  # poses' rotations in the tournament
    centres: int  # places tried for each rotation
    coarse: int  # climbs against the coarse stand-in
    fine: int  # climbs against the fine stand-in, and short ones against the whole surface
    rounds: int  # of climbs anew from close by the best, against the whole surface
    final: int  # climbs against the whole surface, to the end
    cells: int  # of rotations that the bound looks at


# Measured on pebbles, dented and real pieces: the stand-ins tell which basins are good, but only
# the whole surface tells which is best, so many of them get a short climb there. A scan's noise
# makes many small tops of one: the rounds bring up to 2 % of the weight in pieces where the search
# without them stopped at a different top for each seed.
EFFORTS = {
    "glance": Effort(200, 16, 24, 8, 0, 2, 600),  # of a piece among many, never of a whole plan
    "quick": Effort(800, 32, 140, 40, 1, 4, 3000),
    "normal": Effort(3000, 64, 400, 120, 6, 10, 20_000),
    "thorough": Effort(20_000, 128, 3000, 600, 20, 40, 100_000),
}

# A round starts from so many of the best places, so often from each, moved and turned by between
# these shares of the stone's half length, evenly over their logarithm: steps of every size.
ROUND_PLACES, ROUND_STARTS, ROUND_REACH = 8, 5, (0.005, 0.2)


def even_starts(count: int, group: Floats, seed: int) -> Floats:
    """About ``count`` even rotations, one of each orbit of the body's rotation group; the seed
    turns them all."""
    every = even_rotations(count * len(group))
    return one_of_each_orbit(random_rotation(seed) @ every, group)


def search(ground: Ground, task: Task, effort: Effort, watch: Watch) -> list[State]:
    """The best distinct places found, best first, each exact on the whole surface.

    The same input gives the same answer whatever the number of workers. Empty where the search
    was stopped before it had any, or nothing fits.
    """
    planes = planes_for(ground, task)
    rough: Container = replace(ground.surface, square=True) if planes is None else planes
    exact = Problem(task.growing, (rough, *task.walls), task.demands, 1.0, task.ceiling)
    best = Best(exact, task.least)
    if planes is None:
        starts, coarse, fine = _starts(ground, task, watch, best)
    else:
        starts = best_in_planes(ground, planes, task, watch, best)
    mm_per_radian = _half_length(ground, task.growing, starts[0].sigma if starts else 0.0)
    if not starts or starts[0].sigma * task.growing.growths[0].pace < -HOPELESS * mm_per_radian:
        return best.kept_among([])
    stages = _Stages(ground, task, effort, watch, best, mm_per_radian)
    if planes is None:
        states = stages.in_surface(starts, coarse, fine)
    else:
        states = stages.among_planes(starts, planes)
    return best.kept_among([s for s in stages.distinct(states, effort.final) if s.sigma > 0.0])


def _starts(
    ground: Ground, task: Task, watch: Watch, best: Best
) -> tuple[list[State], Container, Container]:
    """Where to begin on a surface, the best first, and what stands in for it, coarse and fine:
    points, or faces where the stone is so thin that it slips between points."""
    starts = best_by_points(ground, task, watch, best)
    if not _slips(ground, task.growing, starts):
        return starts, Points(ground.coarse), Points(ground.fine)
    coarse, fine = (replace(each, square=True) for each in ground.shells)
    return best_by_faces(ground, task, watch, best) or starts, coarse, fine


def _half_length(ground: Ground, growing: Growing, sigma: float) -> float:
    """The stone's half length, mm; the depth of the rough where the stone has no size yet."""
    if growing.fixed_width is not None:
        return float(np.linalg.norm(growing.corners(0.0), axis=1).max())
    mm_per_radian = sigma * float(np.linalg.norm(growing.body.vertices, axis=1).max())
    return mm_per_radian if mm_per_radian > 0.0 else float(ground.depths.max())


def _slips(ground: Ground, growing: Growing, starts: list[State]) -> bool:
    """Whether a stone, at its true size where it begins, is so thin that points of the surface
    don't hold it."""
    growth, surface = growing.growths[0], replace(ground.surface, square=True)
    plain = replace(growing, growths=(growth,))
    gauges = [
        surface.gauge(Situation(plain, start.rotation, start.translation), 0.0)
        for start in starts[:LOOKED]
    ]
    sigma = max(0.0, *gauges) if gauges else 0.0
    along = (growth.corners0 + growth.corners1 * sigma) @ growth.normals.T
    thickness = np.ptp(along, axis=0).min() + 2.0 * (growth.margin0 + growth.margin1 * sigma)
    return bool(thickness < SLIPS * ground.spacing)


@dataclass(frozen=True)
class _Stages:
    """The stages of a search, each from the best distinct states of the one before."""

    ground: Ground
    task: Task
    effort: Effort
    watch: Watch
    best: Best
    mm_per_radian: float

    def among_planes(self, starts: list[State], planes: Planes) -> list[State]:
        """Climb within the few planes of a convex solid, and then within its surface."""
        effort, count = self.effort, PLANE_CLIMBS * self.effort.fine
        states = self.climbs(starts[: effort.coarse], (planes,), "improving places", COARSE, count)
        states = self.climbs(states, (planes,), "settling the last hundredths", EXACT, effort.final)
        return self.finished(states)

    def in_surface(self, starts: list[State], coarse: Container, fine: Container) -> list[State]:
        """Climb within what stands in for the surface, and then within the surface itself."""
        effort, inside = self.effort, CentreInside(self.ground.surface)
        square = replace(self.ground.surface, square=True)
        states = starts[: effort.coarse]
        states = self.climbs(states, (coarse, inside), "improving places", COARSE, effort.coarse)
        states = self.climbs(states, (fine, inside), "improving places", FINE, effort.fine)
        states = self.climbs(states, (square,), "settling into places", SETTLING, effort.fine)
        if self.best.state is None:  # the rough itself allows none of these
            starts = self.otherwise(starts)
            states += self.climbs(starts, (square,), "looking again", SETTLING, effort.coarse)
        for number in range(effort.rounds):
            if self.watch.stop():
                break
            tries = close_by(self.distinct(states, ROUND_PLACES), self.mm_per_radian, number)
            states += self.all(tries, (square,), "trying places nearby", SETTLING)
        return self.finished(states)

    def finished(self, states: list[State]) -> list[State]:
        """The best few, climbed to the end within the surface itself."""
        whole = FlatSurface.like(self.ground.surface)
        how = EXACT if len(whole.triangles) <= FEW_TRIANGLES else FINISHING
        return self.climbs(states, (whole,), "settling the last hundredths", how, self.effort.final)

    def otherwise(self, starts: list[State]) -> list[State]:
        """Where to begin again where no stone was found: a stone of one size that only just fits
        has hardly any clearance, so it is grown to that size first."""
        width = self.task.growing.fixed_width
        if width is None:
            return starts
        growing = growing_by_width(self.task.growing.body, self.task.least, width)
        task = replace(self.task, growing=growing, ceiling=width, least=width)
        return search(self.ground, task, self.effort, self.watch)

    def climbs(
        self, states: list[State], rough: Rough, stage: str, how: Climbing, count: int
    ) -> list[State]:
        """From the best ``count`` distinct states, in what stands for the rough."""
        return self.all(self.distinct(states, count), rough, stage, how)

    def all(self, states: list[State], rough: Rough, stage: str, how: Climbing) -> list[State]:
        """From every state."""
        task = self.task
        containers = (*rough, *task.walls)
        problem = Problem(task.growing, containers, task.demands, self.mm_per_radian, task.ceiling)
        return climb_all(problem, states, self.watch, stage, how, self.best.consider)

    def distinct(self, states: list[State], count: int) -> list[State]:
        """The best ``count`` states no two of which are the same place."""
        return distinct(states, self.task.growing.body.rotations, self.mm_per_radian, count)


def close_by(states: list[State], mm_per_radian: float, seed: int) -> list[State]:
    """Starts about the states, each moved and turned a little (iterated local search, Lourenço,
    Martin and Stützle 2003)."""
    rng = np.random.default_rng(seed)
    starts = []
    for state in states:
        for _ in range(ROUND_STARTS):
            reach = np.exp(rng.uniform(*np.log(ROUND_REACH)))
            shift, about = (reach * v / np.linalg.norm(v) for v in rng.normal(size=(2, 3)))
            rotation = np.ascontiguousarray(turn(about) @ state.rotation)
            moved = state.translation + mm_per_radian * shift
            starts.append(replace(state, rotation=rotation, translation=moved))
    return starts


def planes_for(ground: Ground, task: Task) -> Planes | None:
    """The few planes that are all that holds a stone in convex rough; None where the rough has
    hollows or flaws."""
    clear = not len(task.obstacles) and not len(task.off_table)
    return ground.inner if clear else None


def climb_all(
    problem: Problem,
    states: list[State],
    watch: Watch,
    stage: str,
    how: Climbing,
    consider: Callable[[State], float] = lambda state: 0.0,
) -> list[State]:
    """Climb from every state, the best first. Once stopped, the next few are judged where they are,
    without a climb, and the rest, which promise less, are dropped. ``consider`` gets each in turn,
    and says how wide the best stone is, for the watch."""

    def one(number: int) -> State | None:
        state = states[number]
        if watch.stop() and number >= STOPPED_WITH:
            return None
        start = stand(problem, state.rotation, state.translation, -np.inf)
        if watch.stop():
            return start
        scale = max(abs(start.sigma), 1e-3 * problem.mm_per_radian)
        return climb(
            problem,
            start,
            radius=how.radius * problem.mm_per_radian,
            tolerance=how.tolerance * scale,
            steps=how.steps,
        )

    done: list[State] = []
    with workers() as pool:
        for state in pool.map(one, range(len(states))):
            if state is None:
                break
            done.append(state)
            watch.progress(stage, len(done), len(states), consider(state))
    return done


def distinct(states: list[State], group: Floats, mm_per_radian: float, count: int) -> list[State]:
    """The best ``count`` states no two of which are the same place, up to the rotations ``group``
    (q, 3, 3) of the body onto itself."""
    ordered = sorted(states, key=lambda s: -s.merit)
    places = np.array([s.translation for s in ordered]).reshape(-1, 3)
    turns = np.array([s.rotation for s in ordered]).reshape(-1, 3, 3)
    kept: list[int] = []
    for i in range(len(ordered)):
        if len(kept) == count:
            break
        near = np.array(kept, int)
        near = near[np.linalg.norm(places[near] - places[i], axis=1) <= SAME * mm_per_radian]
        if not _turned_alike(turns[near], turns[i], group):
            kept.append(i)
    return [ordered[i] for i in kept]


def _turned_alike(turns: Floats, turn: Floats, group: Floats) -> bool:
    """Whether any of ``turns`` (k, 3, 3) is ``turn`` (3, 3), up to the rotations of ``group``."""
    if not len(turns):
        return False
    between = np.swapaxes(turns, 1, 2) @ turn
    traces = np.tensordot(between, group, axes=([1, 2], [2, 1]))
    return bool(np.arccos(np.clip((traces.max() - 1.0) / 2.0, -1.0, 1.0)) < SAME)
