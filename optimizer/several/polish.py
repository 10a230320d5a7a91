"""The last climb of a refinement: each stone by itself, exact in its own cell."""

from dataclasses import replace

import numpy as np

from optimizer.placement.climb import Problem, State, climb
from optimizer.placement.growing import growing_by_clearance
from optimizer.placement.search import FINISHING
from optimizer.several.joint import JointProblem, Layout, ParallelMap, layout_at, problem_between


def polished(joint: JointProblem, at: Layout, parallel_map: ParallelMap) -> Layout:
    """Every stone climbed to its largest width between the cuts, which stay. A stone whose width
    ends at the greatest allowed, or at what its pair allows, moves to where its clearance is
    greatest."""
    numbers = range(len(at.stones))

    def grown(number: int) -> State:
        return _climbed(problem_between(joint, number, at.planes), at.stones[number])

    largest = list(parallel_map(grown, numbers))
    at = layout_at(joint, [(s.rotation, s.translation) for s in largest], at.planes, parallel_map)

    def cleared(number: int) -> State:
        state = at.stones[number]
        if state.sigma == largest[number].sigma < joint.stones[number].problem.ceiling:
            return state
        return _clearest(problem_between(joint, number, at.planes), state)

    return replace(at, stones=tuple(parallel_map(cleared, numbers)))


def _clearest(problem: Problem, state: State) -> State:
    """The stone at its present width, where it can lie farthest from all its constraints."""
    growing = growing_by_clearance(problem.growing.body, state.sigma)
    by_clearance = replace(problem, growing=growing, ceiling=np.inf)
    skin = problem.growing.growths[0].margin0
    return replace(_climbed(by_clearance, replace(state, sigma=skin)), sigma=state.sigma)


def _climbed(problem: Problem, state: State) -> State:
    return climb(
        problem,
        state,
        radius=FINISHING.radius * problem.mm_per_radian,
        tolerance=FINISHING.tolerance * max(abs(state.sigma), 1e-3 * problem.mm_per_radian),
        steps=FINISHING.steps,
    )
