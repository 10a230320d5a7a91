"""The incumbents of a search: the best division found so far with each number of stones."""

import numpy as np

from optimizer.placement.search import Watch
from optimizer.several.instance import Instance
from optimizer.several.model import Candidate, Division
from optimizer.several.pairs import unpaired

BETTER = 1e-4  # of the worth: a lesser gain is no reason to go on


class Incumbents:
    """Feasible divisions alone are kept."""

    def __init__(self, instance: Instance, watch: Watch) -> None:
        self.instance, self.watch = instance, watch
        self._by_number: dict[int, Division] = {}

    def add(self, division: Division | None) -> bool:
        """Keep the division where it is feasible and the best of its number of stones; whether it
        is clearly better than all divisions kept before."""
        division = division and without_unpaired(self.instance, division)
        if division is None or not feasible(self.instance, division):
            return False
        worth, best = self.instance.division_worth(division), self.worth
        number = len(division.stones)
        same = self._by_number.get(number)
        if same is None or worth > self.instance.division_worth(same):
            self._by_number[number] = division
            self.watch.keeps()
        return is_gain(best, worth)

    @property
    def worth(self) -> float:
        """What the best division is worth; 0 where there is none."""
        return max(map(self.instance.division_worth, self._by_number.values()), default=0.0)

    @property
    def best(self) -> Division | None:
        """The best division of all."""
        return max(self._by_number.values(), key=self.instance.division_worth, default=None)

    def of(self, number: int) -> Division | None:
        """The best division with this number of stones."""
        return self._by_number.get(number)

    def below(self, number: int) -> Division | None:
        """The best division with the most stones below this number: pairs leave gaps."""
        return self.of(max((n for n in self._by_number if n < number), default=0))

    def worth_of(self, number: int) -> float:
        """What the best division with this number of stones is worth; 0 where there is none."""
        own = self.of(number)
        return 0.0 if own is None else self.instance.division_worth(own)

    def numbers(self) -> tuple[int, ...]:
        """The numbers of stones of the divisions kept, that of most worth first; of equal ones,
        the least."""
        return tuple(sorted(self._by_number, key=lambda n: (-self.worth_of(n), n)))

    def all(self) -> tuple[Division, ...]:
        """The best division with each number of stones."""
        return tuple(self._by_number.values())

    def others(self) -> tuple[Division, ...]:
        """All divisions but the best, most worth first."""
        worth = self.instance.division_worth
        return tuple(sorted(self._by_number.values(), key=lambda d: -worth(d))[1:])

    def candidates(self) -> list[Candidate]:
        """The stones of all divisions kept."""
        return [self.instance.candidate(s) for d in self._by_number.values() for s in d.stones]


def is_gain(before: float, after: float) -> bool:
    """Whether a worth is clearly greater than that before."""
    return after > before + BETTER * abs(before)


def feasible(instance: Instance, division: Division) -> bool:
    """Whether every wish has the stones that it needs, and every stone looks as wished."""
    counts = np.bincount([one.wish for one in division.stones], minlength=len(instance.wishes))
    enough = all(count >= wish.least for count, wish in zip(counts, instance.wishes, strict=True))
    return enough and all(map(instance.look_met, division.stones))


def without_unpaired(instance: Instance, division: Division) -> Division | None:
    """The division without the stones of wishes for pairs that have no partner; None where no
    stone is left."""
    odd = unpaired(division.stones, instance.wishes)
    if len(odd) == len(division.stones):
        return None
    for number in reversed(odd):
        division = division.without(number)
    return division
