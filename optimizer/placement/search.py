"""Global search: a tournament of poses, then climbs from the best distinct ones."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.climb import Problem, State, climb, stand
from optimizer.placement.containers import Container, Points
from optimizer.placement.demands import Demand
from optimizer.placement.ground import Ground
from optimizer.placement.growing import Growing
from optimizer.placement.kernels.cells import best_at_turns
from optimizer.placement.kernels.points import tournament
from optimizer.placement.kernels.table import tournament_off_table
from optimizer.placement.rotations import even_rotations, one_of_each_orbit, random_rotation, turn
from optimizer.placement.workers import workers

WORKERS = 2
BLOCK = 16  # rotations that one kernel call judges
ROUND = 8  # blocks judged against the same incumbent, whatever the number of workers
STOPPED_WITH = 8  # states that a stage still looks at when it starts after a stop
KEEP = 0.6  # a pose below this share of the best is not worth a climb
FEW_PLANES = 300  # up to here a convex solid's own planes are quicker than points
SAME = 0.01  # radians, or share of the stone's half length: closer is the same place


@dataclass(frozen=True)
class Climbing:
    """How far a climb goes: first trust radius as a share of the lever, tolerance as a share of
    σ, and the most steps."""

    radius: float
    tolerance: float
    steps: int


COARSE = Climbing(0.2, 1e-3, 15)
FINE = Climbing(0.05, 1e-4, 20)
SETTLING = Climbing(0.02, 1e-4, 8)
FINISHING = Climbing(0.02, 1e-9, 60)  # a scan: to well below what any caliper reads
EXACT = Climbing(0.02, 1e-13, 60)  # a few planes: to the last bit


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


@dataclass(frozen=True)
class Task:
    """What to search for, in the ground's own frame."""

    growing: Growing
    walls: tuple[Container, ...]
    demands: tuple[Demand, ...]
    rotations: Floats  # (n, 3, 3) starts
    centres: Floats  # (c, 3) starts, inside the rough
    ceiling: float  # σ is not wanted beyond this
    # (n, 3) points that stand in for flaws when the search begins
    obstacles: Floats = field(default_factory=lambda: np.empty((0, 3)))
    # the like, for flaws that only the part of the stone below its table must keep clear of
    off_table: Floats = field(default_factory=lambda: np.empty((0, 3)))


@dataclass(frozen=True)
class Watch:
    """How a search is watched and stopped: it asks ``stop`` often and tells ``progress`` its
    stage, the steps done and in all, and the width in mm of the best stone so far, 0 where there is
    none; ``keeps`` once it has what a stop would keep, where that is no one stone."""

    stop: Callable[[], bool] = lambda: False
    progress: Callable[[str, int, int, float], None] = lambda stage, done, total, best: None
    keeps: Callable[[], None] = lambda: None


QUIET = Watch()  # never stopped, told to nobody


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
    few_planes = by_planes(ground, task)
    if few_planes:
        starts = _best_at_turns(ground, task, watch)
    else:
        starts = _tournament(ground, task, effort, watch)
    if not starts:
        return []
    lever = starts[0].sigma * float(np.linalg.norm(task.growing.body.vertices, axis=1).max())
    if task.growing.fixed_width is not None:
        lever = float(np.linalg.norm(task.growing.corners(0.0), axis=1).max())

    def climbs(container: Container, stage: str, how: Climbing, count: int) -> list[State]:
        """From the best ``count`` distinct states so far against one container."""
        chosen = _distinct(states, task, lever, count)
        containers = (container, *task.walls)
        problem = Problem(task.growing, containers, task.demands, lever, task.ceiling)
        return climb_all(problem, chosen, watch, stage, how)

    states = starts[: effort.coarse]
    if few_planes:
        states = climbs(ground.hull, "climbing", COARSE, effort.fine)
        states = climbs(ground.hull, "finishing", EXACT, effort.final)
    else:
        states = climbs(Points(ground.coarse), "climbing", COARSE, effort.coarse)
        states = climbs(Points(ground.fine), "refining", FINE, effort.fine)
        square = replace(ground.surface, square=True)
        states = climbs(square, "settling", SETTLING, effort.fine)
        for number in range(effort.rounds):
            if watch.stop():
                break
            tops = _distinct(states, task, lever, ROUND_PLACES)
            containers = (square, *task.walls)
            problem = Problem(task.growing, containers, task.demands, lever, task.ceiling)
            states += climb_all(problem, close_by(tops, lever, number), watch, "trying", SETTLING)
        states = climbs(ground.surface, "finishing", FINISHING, effort.final)
    return [s for s in _distinct(states, task, lever, effort.final) if _inside(ground, s)]


def close_by(states: list[State], lever: float, seed: int) -> list[State]:
    """Starts about the states, each moved and turned a little (iterated local search, Lourenço,
    Martin and Stützle 2003)."""
    rng = np.random.default_rng(seed)
    starts = []
    for state in states:
        for _ in range(ROUND_STARTS):
            reach = np.exp(rng.uniform(*np.log(ROUND_REACH)))
            shift, about = (reach * v / np.linalg.norm(v) for v in rng.normal(size=(2, 3)))
            rotation = np.ascontiguousarray(turn(about) @ state.rotation)
            moved = state.translation + lever * shift
            starts.append(replace(state, rotation=rotation, translation=moved))
    return starts


def by_planes(ground: Ground, task: Task) -> bool:
    """Whether the rough is a convex solid of few planes and nothing stands in it."""
    few = ground.convex and len(ground.hull.offsets) <= FEW_PLANES
    return few and not len(task.obstacles) and not len(task.off_table)


def _inside(ground: Ground, state: State) -> bool:
    return state.sigma > 0.0 and ground.surface.holds(state.translation)


def _best_at_turns(ground: Ground, task: Task, watch: Watch) -> list[State]:
    """The best place at each rotation in a convex solid, best first: exact, but for walls."""
    growth, hull = task.growing.growths[0], ground.hull
    by_width = task.growing.fixed_width is None
    corners = growth.corners1 if by_width else growth.corners0
    reach = np.ptp(ground.fine, axis=0)
    most = float(reach.max() / np.ptp(corners, axis=0).min()) if by_width else reach.max()
    room = np.array([*reach, most])

    def judge(block: Floats) -> tuple[Floats, Floats]:
        return best_at_turns(  # type: ignore[no-any-return]
            hull.normals, hull.offsets - growth.margin0, corners, by_width, growth.margin1,
            np.ascontiguousarray(block), room,
        )  # fmt: skip

    judged: list[tuple[Floats, Floats]] = []
    blocks = [task.rotations[i : i + BLOCK] for i in range(0, len(task.rotations), BLOCK)]
    with workers(WORKERS) as pool:
        for first in range(0, len(blocks), ROUND):
            if watch.stop():
                break
            judged += pool.map(judge, blocks[first : first + ROUND])
            best = max(float(s.max()) for s, _ in judged)
            watch.progress("looking around", len(judged), len(blocks), best)
    if not judged:
        return []
    sizes, places = (np.concatenate(part) for part in zip(*judged, strict=True))
    order = np.argsort(-sizes, kind="stable")
    return [
        State(float(sizes[i]), np.ascontiguousarray(task.rotations[i]), places[i], 0.0)
        for i in order[np.isfinite(sizes[order])]
    ]


def _tournament(ground: Ground, task: Task, effort: Effort, watch: Watch) -> list[State]:
    """Judge every rotation at every centre; the best centre of each rotation, best first."""
    centres = task.centres
    points = np.vstack([ground.coarse, task.obstacles])
    distances = np.linalg.norm(points[None] - centres[:, None], axis=2)
    orders = np.argsort(distances, axis=1)
    growth = task.growing.growths[0]
    blocks = [task.rotations[i : i + BLOCK] for i in range(0, len(task.rotations), BLOCK)]

    def judge(block: Floats, best: float) -> tuple[Floats, Floats]:
        body = (growth.normals, growth.alpha, growth.beta)
        block = np.ascontiguousarray(block)
        if len(task.off_table):
            part = growth.under_table
            return tournament_off_table(  # type: ignore[no-any-return]
                points, centres, orders, task.off_table, block, *body, part.normals, part.alpha,
                part.beta, task.ceiling, KEEP, best,
            )  # fmt: skip
        return tournament(  # type: ignore[no-any-return]
            points, centres, orders, block, *body, task.ceiling, KEEP, best
        )

    gauges, which, best = [], [], 0.0
    with workers(WORKERS) as pool:
        for first in range(0, len(blocks), ROUND):
            if watch.stop():
                break
            batch = blocks[first : first + ROUND]
            floor = best
            for g, w in pool.map(lambda block: judge(block, floor), batch):  # noqa: B023
                gauges.append(g)
                which.append(w)
                best = max(best, float(g.max()))
            watch.progress("looking around", first + len(batch), len(blocks), best)
    if not gauges or best <= 0.0:
        return []
    scores, places = np.concatenate(gauges), np.concatenate(which)
    order = np.argsort(-scores, kind="stable")
    order = order[np.isfinite(scores[order])]
    return [
        State(float(scores[i]), np.ascontiguousarray(task.rotations[i]), centres[places[i]], 0.0)
        for i in order
    ]


def climb_all(
    problem: Problem,
    states: list[State],
    watch: Watch,
    stage: str,
    how: Climbing,
) -> list[State]:
    """Climb from every state, the best first. Once stopped, the next few are only stood where
    they are, and the rest, which promise less, are dropped."""

    def one(number: int) -> State | None:
        state = states[number]
        if watch.stop() and number >= STOPPED_WITH:
            return None
        start = stand(problem, state.rotation, state.translation, -np.inf)
        if watch.stop():
            return start
        scale = max(abs(start.sigma), 1e-3 * problem.lever)
        return climb(
            problem,
            start,
            radius=how.radius * problem.lever,
            tolerance=how.tolerance * scale,
            steps=how.steps,
        )

    done: list[State] = []
    best = -np.inf
    with workers(WORKERS) as pool:
        for state in pool.map(one, range(len(states))):
            if state is None:
                break
            done.append(state)
            best = max(best, state.merit)
            watch.progress(stage, len(done), len(states), best)
    return done


def _distinct(states: list[State], task: Task, lever: float, count: int) -> list[State]:
    """The best ``count`` states no two of which are the same place, up to the body's symmetry."""
    group = task.growing.body.rotations
    ordered = sorted(states, key=lambda s: -s.merit)
    places = np.array([s.translation for s in ordered]).reshape(-1, 3)
    turns = np.array([s.rotation for s in ordered]).reshape(-1, 3, 3)
    kept: list[int] = []
    for i in range(len(ordered)):
        if len(kept) == count:
            break
        near = np.array(kept, int)
        near = near[np.linalg.norm(places[near] - places[i], axis=1) <= SAME * lever]
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
