"""The best valid stone that a search has found so far."""

from optimizer.placement.climb import Problem, State, stand

ROUNDING = 1e-9  # relative: a stone that is larger by no more is the same


class Best:
    """The largest stone so far that the rough itself allows, that meets every demand, and that is
    no smaller than asked.

    Points and shells that stand in for the rough's surface allow larger stones than the rough does.
    So a search shows this stone as its progress, and keeps it if it is stopped.
    """

    def __init__(self, problem: Problem, least: float) -> None:
        """``problem`` has the rough itself as its container; a σ below ``least`` is too small."""
        self.problem, self.least = problem, least
        self.state: State | None = None

    @property
    def width(self) -> float:
        """The stone's width in mm; 0 while there is no stone."""
        return 0.0 if self.state is None else self.problem.growing.width(self.state.sigma)

    def consider(self, state: State) -> float:
        """Take one more state into account; returns the best width in mm."""
        floor = 0.0 if self.state is None else self.state.sigma
        if state.merit > floor:
            floor = max(floor, self.least)
            true = stand(self.problem, state.rotation, state.translation, floor)
            if true.sigma >= floor and true.sigma > 0.0 and true.met:
                self.state = true
        return self.width

    def kept_among(self, found: list[State]) -> list[State]:
        """The states found, best first, with this stone among them where it is larger than all."""
        most = max((state.sigma for state in found if state.met), default=0.0)
        if self.state is None or self.state.sigma <= most * (1.0 + ROUNDING):
            return found
        return sorted([self.state, *found], key=lambda state: -state.merit)
