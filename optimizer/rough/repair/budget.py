"""What a step of the ladder may cost, whatever the damage: past it the scan is refused."""

from optimizer.errors import InputError


class BudgetSpentError(InputError):
    """A step has used up its work. The sentence says which step, and what to do; the ladder puts
    the file's name before it."""

    def __init__(self, step: str, why: str, advice: str) -> None:
        super().__init__(f"{step} would take too long: {why}; {advice}")
