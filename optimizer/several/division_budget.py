"""How much work a search for a division may take."""

from dataclasses import dataclass


@dataclass(frozen=True)
class DivisionBudget:
    """Numbers of what is tried, for each number of stones."""

    sets: int  # of candidates that are sawn apart and refined
    barred: int  # sets, at most, that turn out locked
    layouts: int  # of each kind that are squeezed
    fills: bool  # whether a division is filled up even where the sets brought a gain
    insertions: int  # of a stone for which the others must make room
    finished: int  # numbers of stones, at most, whose best divisions are worked on in the end
    sweeps: int  # of ruin and recreate, each through the stones of a division
    removed: int  # stones taken out in a sweep, one at a time, the least first
    cells: int  # stones of a division, at most, that are searched again in their cells
    restarts: int  # of the last refinement, divided by the number of stones
    work: float  # of each choice, CP-SAT's own measure


BUDGETS = {
    "quick": DivisionBudget(1, 12, 3, False, 1, 3, 0, 0, 0, 8, 1.0),
    "normal": DivisionBudget(3, 24, 4, True, 3, 2, 1, 4, 8, 24, 3.0),
    "thorough": DivisionBudget(12, 48, 6, True, 8, 6, 6, 24, 48, 240, 20.0),
}
