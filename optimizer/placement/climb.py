"""Sequential linear programming: from a start to the nearest true local best.

Each step freezes the direction in which every near feature holds the stone, solves the linear
program in size, shift and turn inside a trust region, and is taken only if the exact gauge
agrees. At a sharp best it converges quadratically. The free parameters of a design join as further
unknowns (``shaping``).
"""

from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.containers import Container
from optimizer.placement.demands import Demand
from optimizer.placement.growing import Growing
from optimizer.placement.kernels.linear import best_step
from optimizer.placement.rotations import orthonormal, turn
from optimizer.placement.situation import Situation

# σ given up for one mm of unmet demand: more than a mm of give can win, as long as no facet lies
# nearer to the axis than an eighth of the width.
PENALTY = 8.0
MET_MM = 1e-7  # a demand that lacks no more than this is met; the audit allows ten times as much
BAND = 0.75  # features within this many trust radii get a row; the exact gauge sees to the rest
ENOUGH = 1e-4  # share of the promised gain that a step must bring to be taken


@dataclass(frozen=True)
class Problem:
    """Grow one body as far as the containers allow, meeting the demands; never past ``ceiling``."""

    growing: Growing
    containers: tuple[Container, ...]
    demands: tuple[Demand, ...]
    mm_per_radian: float  # a turn of a radian counts as so many mm: about the stone's half length
    ceiling: float


@dataclass(frozen=True)
class State:
    """A pose with its σ; ``unmet`` in mm is what the worst demand lacks."""

    sigma: float
    rotation: Floats
    translation: Floats
    unmet: float

    @property
    def merit(self) -> float:
        """What the climb makes greater."""
        return self.sigma - PENALTY * self.unmet

    @property
    def met(self) -> bool:
        """Whether every demand is met."""
        return self.unmet <= MET_MM


def stand(problem: Problem, rotation: Floats, translation: Floats, floor: float) -> State:
    """The state at a pose; where σ is below ``floor`` it may be given too low."""
    sigma = problem.ceiling
    at = Situation(problem.growing, rotation, translation, sigma, problem.mm_per_radian)
    for container in problem.containers:
        if sigma >= floor:
            sigma = min(sigma, container.gauge(at, floor))
    unmet = 0.0
    if sigma >= floor and sigma > -np.inf and problem.demands:
        at = replace(at, sigma=sigma)
        unmet = max(0.0, *(-d.clearance(at) for d in problem.demands))
    return State(sigma, rotation, translation, unmet)


def situation(problem: Problem, state: State) -> Situation:
    """What the containers and demands of a problem are asked about at a state."""
    return Situation(
        problem.growing, state.rotation, state.translation, state.sigma, problem.mm_per_radian
    )


def linear_rows(problem: Problem, state: State, band: float) -> tuple[Floats, Floats]:
    """All rows over (δσ, δt, θ, δp, slack), the ceiling's first: features hold hard, demands give
    way at a price, and the slack is not negative."""
    at = situation(problem, state)
    hard = [container.rows(at, band) for container in problem.containers]
    soft = [demand.rows(at) for demand in problem.demands]
    ends = np.cumsum([1, *(len(limits) for _, limits in (*hard, *soft)), 1])
    rows = np.zeros((ends[-1], 8 + len(problem.growing.nudges)))
    limits = np.zeros(ends[-1])
    rows[0, 0], limits[0] = 1.0, problem.ceiling - state.sigma
    for first, last, (r, m) in zip(ends, ends[1:], (*hard, *soft), strict=False):
        rows[first:last, :-1], limits[first:last] = r, m
    rows[ends[len(hard)] :, -1] = -1.0
    return rows, limits


class Place(Protocol):
    """Where a climb stands."""

    @property
    def merit(self) -> float:
        """What the climb makes greater."""
        ...

    @property
    def unmet(self) -> float:
        """What the worst demand lacks, mm."""
        ...


P = TypeVar("P", bound=Place)


class Hill(Protocol[P]):
    """What is climbed. Steps are (δσ, parts in mm, slack)."""

    @property
    def pace(self) -> float:
        """The least mm that a facet moves outwards for one unit of σ."""
        ...

    def program(self, at: P, radius: float) -> tuple[Floats, Floats, Floats]:
        """Rows, limits and objective of the step's linear program."""
        ...

    def moved(self, at: P, step: Floats) -> P | None:
        """Where the step leads, exactly; None where nothing can stand."""
        ...


@dataclass(frozen=True)
class PoseHill:
    """Size, shift and turn of one body."""

    problem: Problem

    @property
    def pace(self) -> float:
        """See Hill."""
        return min(g.pace for g in self.problem.growing.growths)

    def program(self, at: State, radius: float) -> tuple[Floats, Floats, Floats]:
        """See Hill."""
        rows, limits = linear_rows(self.problem, at, BAND * radius / self.pace)
        return rows, limits, OBJECTIVE

    def moved(self, at: State, step: Floats) -> State:
        """See Hill."""
        rotation = turned(at.rotation, step[4:7], self.problem.mm_per_radian)
        return stand(self.problem, rotation, at.translation + step[1:4], at.merit)


OBJECTIVE = np.array([1.0, 0, 0, 0, 0, 0, 0, -PENALTY])


def turned(rotation: Floats, theta: Floats, mm_per_radian: float) -> Floats:
    """A rotation turned on by a step's θ."""
    return np.ascontiguousarray(turn(theta / mm_per_radian) @ rotation)


def climb(problem: Problem, start: State, *, radius: float, tolerance: float, steps: int) -> State:
    """Follow linear programs uphill from ``start`` until a step promises less than
    ``tolerance`` in σ. ``radius`` is the first trust region's half-width in mm."""
    best = follow(PoseHill(problem), start, problem.mm_per_radian, radius, tolerance, steps)
    return replace(best, rotation=orthonormal(best.rotation))


def follow(
    hill: Hill[P], start: P, mm_per_radian: float, radius: float, tolerance: float, steps: int
) -> P:
    """The trust-region loop of ``climb`` on any hill; where nothing can stand it does not begin."""
    if start.merit == -np.inf:
        return start
    state, longest = start, radius
    for _ in range(steps):
        rows, limits, objective = hill.program(state, radius)
        parts = len(objective) - 2
        box = np.array([1e3 * radius / hill.pace] + [radius] * parts + [1e3 * mm_per_radian])
        step, _, solved = best_step(rows, limits, objective, box)
        promise = float(objective[:-1] @ step[:-1]) - PENALTY * (step[-1] - state.unmet)
        if not solved or promise < tolerance:
            break
        new = hill.moved(state, step)
        gain = -np.inf if new is None else new.merit - state.merit
        if new is None or gain < ENOUGH * promise:
            radius = 0.4 * min(radius, float(np.abs(step[1:-1]).max()))
            if radius < tolerance * hill.pace:
                break
            continue
        state = new
        if gain > 0.7 * promise:
            radius = min(2.0 * radius, longest)
        elif gain < 0.3 * promise:
            radius *= 0.5
    return state
