"""The limit on the work of each repair step: where the limit is passed, the scan is refused."""

from optimizer.errors import InputError


class BudgetSpentError(InputError):
    """A repair step has spent its budget of work. The sentence says which step, and what to do;
    ``make_solid`` puts the file's name before it."""

    def __init__(self, step: str, why: str, advice: str) -> None:
        super().__init__(f"{step} would take too long: {why}; {advice}")
