"""Sequential linear programming: from a start to the nearest true local best.

Each step freezes the direction in which every near feature holds the stone, solves the linear
program in size, shift and turn inside a trust region, and is taken only if the exact gauge
agrees. At a sharp best it converges quadratically.
"""

from dataclasses import dataclass, replace

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.containers import Container
from optimizer.placement.demands import Demand, Situation
from optimizer.placement.growth import Growing
from optimizer.placement.linear import best_step
from optimizer.placement.rotations import orthonormal, turn

# σ given up for one mm of unmet demand: more than a mm of give can win, as long as no facet lies
# nearer to the axis than an eighth of the width.
PENALTY = 8.0
BAND = 0.75  # features within this many trust radii get a row; the exact gauge sees to the rest
ENOUGH = 1e-4  # share of the promised gain that a step must bring to be taken


@dataclass(frozen=True)
class Problem:
    """Grow one body as far as the containers allow, meeting the demands; never past ``ceiling``."""

    growing: Growing
    containers: tuple[Container, ...]
    demands: tuple[Demand, ...]
    lever: float  # mm for one radian: about the stone's half length
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


def stand(problem: Problem, rotation: Floats, translation: Floats, floor: float) -> State:
    """The state at a pose; where σ is below ``floor`` it may be given too low."""
    sigma = problem.ceiling
    for container in problem.containers:
        if sigma >= floor:
            gauge = container.gauge(problem.growing.growths, rotation, translation, floor)
            sigma = min(sigma, gauge)
    unmet = 0.0
    if sigma >= floor and problem.demands:
        at = Situation(problem.growing, sigma, rotation, translation, problem.lever)
        unmet = max(0.0, *(-d.clearance(at) for d in problem.demands))
    return State(sigma, rotation, translation, unmet)


def _linear_rows(problem: Problem, state: State, band: float) -> tuple[Floats, Floats]:
    """All rows over (δσ, δt, θ, slack): features hold hard, demands give way at a price."""
    rotation, translation, sigma = state.rotation, state.translation, state.sigma
    rows, limits = [np.array([[1.0, 0, 0, 0, 0, 0, 0, 0]])], [np.array([problem.ceiling - sigma])]
    for container in problem.containers:
        r, m = container.rows(
            problem.growing.near(sigma, band), rotation, translation, sigma, band, problem.lever
        )
        rows.append(np.hstack([r, np.zeros((len(r), 1))]))
        limits.append(m)
    at = Situation(problem.growing, sigma, rotation, translation, problem.lever)
    for demand in problem.demands:
        r, m = demand.rows(at)
        rows.append(np.hstack([r, np.full((len(r), 1), -1.0)]))
        limits.append(m)
    rows.append(np.array([[0.0, 0, 0, 0, 0, 0, 0, -1.0]]))
    limits.append(np.zeros(1))
    return np.ascontiguousarray(np.vstack(rows)), np.concatenate(limits)


def _moved(problem: Problem, state: State, step: Floats, floor: float) -> State:
    rotation = np.ascontiguousarray(turn(step[4:7] / problem.lever) @ state.rotation)
    return stand(problem, rotation, state.translation + step[1:4], floor)


OBJECTIVE = np.array([1.0, 0, 0, 0, 0, 0, 0, -PENALTY])


def climb(problem: Problem, start: State, *, radius: float, tolerance: float, steps: int) -> State:
    """Follow linear programs uphill from ``start`` until a step promises less than
    ``tolerance`` in σ. ``radius`` is the first trust region's half-width in mm."""
    state, reach = start, min(g.pace for g in problem.growing.growths)
    longest = radius
    for _ in range(steps):
        rows, limits = _linear_rows(problem, state, BAND * radius / reach)
        box = np.array([1e3 * radius / reach] + [radius] * 6 + [1e3 * problem.lever])
        step, _, solved = best_step(rows, limits, OBJECTIVE, box)
        promise = step[0] - PENALTY * (step[7] - state.unmet)
        if not solved or promise < tolerance:
            break
        new = _moved(problem, state, step, state.merit)
        gain = new.merit - state.merit
        if gain < ENOUGH * promise:
            radius = 0.4 * min(radius, float(np.abs(step[1:7]).max()))
            if radius < tolerance * reach:
                break
            continue
        state = new
        if gain > 0.7 * promise:
            radius = min(2.0 * radius, longest)
        elif gain < 0.3 * promise:
            radius *= 0.5
    return replace(state, rotation=orthonormal(state.rotation))
