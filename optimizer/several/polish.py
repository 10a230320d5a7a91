"""Each stone of a layout by itself, exact in its own cell."""

from dataclasses import replace

import numpy as np

from optimizer.placement.climb import Problem, State, climb
from optimizer.placement.growing import growing_by_clearance
from optimizer.placement.search import FINISHING
from optimizer.several.joint import Joint, Layout, ParallelMap, beside, stood


def polished(joint: Joint, at: Layout, each: ParallelMap) -> Layout:
    """Every stone climbed to the end between the cuts as they lie; one that is then as large as
    its window or its pair lets it be is laid where its clearance is greatest."""
    numbers = range(len(at.stones))

    def grown(number: int) -> State:
        return _climbed(beside(joint, number, at.planes), at.stones[number])

    tops = list(each(grown, numbers))
    at = stood(joint, [(s.rotation, s.translation) for s in tops], at.planes, each)

    def cleared(number: int) -> State:
        state = at.stones[number]
        if state.sigma == tops[number].sigma < joint.members[number].problem.ceiling:
            return state
        return _clearest(beside(joint, number, at.planes), state)

    return replace(at, stones=tuple(each(cleared, numbers)))


def _clearest(problem: Problem, state: State) -> State:
    """The stone as wide as it is, where it can stand farthest from all that holds it."""
    growing = growing_by_clearance(problem.growing.body, state.sigma)
    by_clearance = replace(problem, growing=growing, ceiling=np.inf)
    skin = problem.growing.growths[0].margin0
    return replace(_climbed(by_clearance, replace(state, sigma=skin)), sigma=state.sigma)


def _climbed(problem: Problem, state: State) -> State:
    return climb(
        problem,
        state,
        radius=FINISHING.radius * problem.lever,
        tolerance=FINISHING.tolerance * max(abs(state.sigma), 1e-3 * problem.lever),
        steps=FINISHING.steps,
    )
