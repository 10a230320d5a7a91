"""The best stone of a search so far that is true."""

from optimizer.placement.climb import Problem, State, stand

ROUNDING = 1e-9  # relative: a stone that is larger by no more is the same


class Best:
    """Judged by all that holds it, every demand met, and no smaller than asked.

    Stand-ins for the rough call a stone larger than it is; what a search tells on its way, and
    keeps whatever comes, is this one.
    """

    def __init__(self, problem: Problem, least: float) -> None:
        """``problem`` holds the rough itself; below σ = ``least`` it is no stone."""
        self.problem, self.least = problem, least
        self.state: State | None = None

    @property
    def width(self) -> float:
        """In mm; 0 while there is none."""
        return 0.0 if self.state is None else self.problem.growing.width(self.state.sigma)

    def consider(self, state: State) -> float:
        """Look at one more state; the best width then."""
        floor = 0.0 if self.state is None else self.state.sigma
        if state.merit > floor:
            floor = max(floor, self.least)
            true = stand(self.problem, state.rotation, state.translation, floor)
            if true.sigma >= floor and true.sigma > 0.0 and true.met:
                self.state = true
        return self.width

    def kept_among(self, found: list[State]) -> list[State]:
        """What a search found, best first, and this one with it where it is better than all."""
        most = max((state.sigma for state in found if state.met), default=0.0)
        if self.state is None or self.state.sigma <= most * (1.0 + ROUNDING):
            return found
        return sorted([self.state, *found], key=lambda state: -state.merit)
