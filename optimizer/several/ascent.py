"""The ascent of several stones and their cuts together: sequential linear programming.

As in ``placement.climb``: each step solves a linear program inside a trust region, and is accepted
only if the exact layout is worth enough more.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.climb import ENOUGH, PENALTY
from optimizer.placement.search import Watch
from optimizer.several.joint import JointProblem, Layout, ParallelMap, layout_after
from optimizer.several.joint_rows import StepObjective, best_step

WIDEN = 4.0  # the trust radius never exceeds this many times the first


class Goal(Protocol):
    """What an ascent maximises."""

    def merit(self, at: Layout) -> float:
        """The exact value of a layout."""
        ...

    def step_objective(self, at: Layout) -> StepObjective:
        """The same to first order about a layout."""
        ...


@dataclass(frozen=True)
class WorthGoal:
    """The worth of all stones, less a penalty for every mm that a stone lacks."""

    joint: JointProblem
    floors: Floats  # (n,) widths to be kept
    penalty: float  # per mm

    @staticmethod
    def of(joint: JointProblem, start: Layout, floors: Floats) -> "WorthGoal":
        """The penalty is so large that no stone gains more from another's shortfall than the
        shortfall costs."""
        slopes = _slopes(joint, np.maximum(start.widths, floors))
        return WorthGoal(joint, floors, PENALTY * (float(slopes.max()) or 1.0))

    def merit(self, at: Layout) -> float:
        """See Goal."""
        worth = sum(
            j.worth_at(max(s.sigma, 0.0)) for j, s in zip(self.joint.stones, at.stones, strict=True)
        )
        return worth - self.penalty * float(at.shortfalls(self.floors).sum())

    def step_objective(self, at: Layout) -> StepObjective:
        """See Goal."""
        slopes = _slopes(self.joint, np.maximum(at.widths, self.joint.least_widths))
        return StepObjective(slopes, np.full(len(slopes), self.penalty), self.floors)


def _slopes(joint: JointProblem, widths: Floats) -> Floats:
    return np.array([j.slope(w) for j, w in zip(joint.stones, widths, strict=True)])


@dataclass(frozen=True)
class EvenGoal:
    """The least ratio of any stone's width to its target (max-min), less a penalty for unmet
    demands."""

    targets: Floats  # (n,) widths

    def merit(self, at: Layout) -> float:
        """See Goal."""
        unmet = at.shortfalls(np.full(len(self.targets), -np.inf))  # of demands alone
        return float((at.widths / self.targets).min() - PENALTY * (unmet / self.targets).sum())

    def step_objective(self, at: Layout) -> StepObjective:
        """See Goal."""
        none = np.zeros(len(self.targets))
        return StepObjective(none, PENALTY / self.targets, none - np.inf, self.targets)


@dataclass(frozen=True)
class AscentSettings:
    """How far an ascent goes: the first trust radius as a share of the smallest stone's size, the
    least predicted gain worth a step as a share of the merit, and the greatest number of steps."""

    radius: float
    tolerance: float
    steps: int


def ascend(
    joint: JointProblem,
    start: Layout,
    goal: Goal,
    settings: AscentSettings,
    enough: float,
    watch: Watch,
    parallel_map: ParallelMap,
) -> Layout:
    """Take steps until the predicted gain is too small or the merit reaches ``enough``."""
    at, merit = start, goal.merit(start)
    radius = settings.radius * min(stone.problem.mm_per_radian for stone in joint.stones)
    widest = WIDEN * radius
    for _ in range(settings.steps):
        if merit >= enough or watch.stop():
            break
        step = best_step(joint, at, radius, goal.step_objective(at), parallel_map)
        if step is None or step.predicted_gain < settings.tolerance * max(abs(merit), 1e-9):
            break
        new = layout_after(joint, at, step.stones[:, 1:7], step.cuts, parallel_map)
        gain = goal.merit(new) - merit
        if gain < ENOUGH * step.predicted_gain:
            radius *= 0.4
            continue
        at, merit = new, merit + gain
        if gain > 0.7 * step.predicted_gain:
            radius = min(2.0 * radius, widest)
        elif gain < 0.3 * step.predicted_gain:
            radius *= 0.5
    return at
