"""The climb of several stones and their cuts together: sequential linear programming.

As in ``placement.climb``: each step solves a linear program inside a trust region and is taken only
if the exact layout is worth more.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.climb import ENOUGH, PENALTY
from optimizer.placement.search import Watch
from optimizer.several.joint import Joint, Layout, ParallelMap, stepped
from optimizer.several.joint_rows import Costs, solved

WIDEN = 4.0  # times the first trust radius: no wider


class AscentGoal(Protocol):
    """What a climb makes greater."""

    def merit(self, at: Layout) -> float:
        """Exactly."""
        ...

    def costs(self, at: Layout) -> Costs:
        """To first order."""
        ...


@dataclass(frozen=True)
class MostWorth:
    """The worth of all stones, less a price for what any lacks."""

    joint: Joint
    floors: Floats  # (n,) widths to be kept
    price: float  # for a mm

    @staticmethod
    def of(joint: Joint, start: Layout, floors: Floats) -> "MostWorth":
        """The price is such that no stone gains more by another's lack than that costs."""
        slopes = _slopes(joint, np.maximum(start.widths, floors))
        return MostWorth(joint, floors, PENALTY * (float(slopes.max()) or 1.0))

    def merit(self, at: Layout) -> float:
        """See Aim."""
        worth = sum(
            m.value(max(s.sigma, 0.0)) for m, s in zip(self.joint.members, at.stones, strict=True)
        )
        return worth - self.price * float(at.short(self.floors).sum())

    def costs(self, at: Layout) -> Costs:
        """See Aim."""
        slopes = _slopes(self.joint, np.maximum(at.widths, self.joint.least))
        return Costs(slopes, np.full(len(slopes), self.price), self.floors)


def _slopes(joint: Joint, widths: Floats) -> Floats:
    return np.array([m.slope(w) for m, w in zip(joint.members, widths, strict=True)])


@dataclass(frozen=True)
class MostEven:
    """The least share that any stone has of its target width, less a price for unmet demands."""

    targets: Floats  # (n,)

    def merit(self, at: Layout) -> float:
        """See Aim."""
        lacks = at.short(np.full(len(self.targets), -np.inf))  # of demands alone
        return float((at.widths / self.targets).min() - PENALTY * (lacks / self.targets).sum())

    def costs(self, at: Layout) -> Costs:
        """See Aim."""
        none = np.zeros(len(self.targets))
        return Costs(none, PENALTY / self.targets, none - np.inf, self.targets)


@dataclass(frozen=True)
class Ascending:
    """How far a climb goes: first trust radius as a share of the smallest stone's lever, the least
    promise worth a step as a share of the merit, and the most steps."""

    radius: float
    tolerance: float
    steps: int


def ascend(
    joint: Joint,
    start: Layout,
    aim: AscentGoal,
    how: Ascending,
    enough: float,
    watch: Watch,
    each: ParallelMap,
) -> Layout:
    """Follow linear programs uphill until a step promises too little or ``enough`` is reached."""
    at, merit = start, aim.merit(start)
    radius = how.radius * min(m.problem.lever for m in joint.members)
    longest = WIDEN * radius
    for _ in range(how.steps):
        if merit >= enough or watch.stop():
            break
        step = solved(joint, at, radius, aim.costs(at), each)
        if step is None or step.promise < how.tolerance * max(abs(merit), 1e-9):
            break
        new = stepped(joint, at, step.stones[:, 1:7], step.cuts, each)
        gain = aim.merit(new) - merit
        if gain < ENOUGH * step.promise:
            radius *= 0.4
            continue
        at, merit = new, merit + gain
        if gain > 0.7 * step.promise:
            radius = min(2.0 * radius, longest)
        elif gain < 0.3 * step.promise:
            radius *= 0.5
    return at
