"""Divisions that lack some of the stones that an order needs, for an order that none meets."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from optimizer.several.divide import SearchResult, divide
from optimizer.several.incumbents import feasible
from optimizer.several.instance import Search
from optimizer.several.model import Division

MOST_RELAXED = {"quick": 3, "normal": 6, "thorough": 12}  # wishes relaxed, each by itself


@dataclass(frozen=True)
class RelaxedResult:
    """What a quick search found where some wishes needed no stone."""

    wishes: tuple[int, ...]  # numbers of the wishes that needed none
    result: SearchResult

    @property
    def divisions(self) -> tuple[Division, ...]:
        """The best division and the others."""
        return (self.result.best, *self.result.others)

    def fullest(self) -> Division:
        """The division with most stones of these wishes together."""
        return max(self.divisions, key=lambda division: sum(self.counts(division)))

    def counts(self, division: Division) -> tuple[int, ...]:
        """How many stones of each of these wishes a division has."""
        return tuple(sum(one.wish == number for one in division.stones) for number in self.wishes)


def relaxed_results(search: Search) -> tuple[RelaxedResult, ...]:
    """Quick searches in which one of the wishes that need stones needs none. Where there are many
    such wishes, only the first are tried. Where no single wish stands in the way, one search in
    which none of them needs a stone. A stop ends the searches early."""
    needed = [number for number, wish in enumerate(search.instance.wishes) if wish.least]
    first = needed[: MOST_RELAXED[search.effort]]
    single = []
    for done, number in enumerate(first):
        search.watch.progress("seeking which stones stand in the way", done, len(first), 0.0)
        single.append(_relaxed_result(search, (number,)))
    found = tuple(one for one in single if one is not None)
    if found or len(needed) < 2:
        return found
    together = _relaxed_result(search, tuple(needed))
    return () if together is None else (together,)


def _relaxed_result(search: Search, numbers: tuple[int, ...]) -> RelaxedResult | None:
    if search.watch.stop():
        return None
    wishes = list(search.instance.wishes)
    for number in numbers:
        wishes[number] = replace(wishes[number], least=0)
    instance = replace(search.instance, wishes=tuple(wishes))
    result = divide(replace(search, instance=instance, effort="quick"))
    return None if result is None else RelaxedResult(numbers, result)


def complete_division(search: Search, relaxed: Sequence[RelaxedResult]) -> SearchResult | None:
    """The best division that has all the stones needed although its search did not ask for them;
    None where there is none."""
    complete = [d for one in relaxed for d in one.divisions if feasible(search.instance, d)]
    best = max(complete, key=search.instance.division_worth, default=None)
    return None if best is None else SearchResult(best, (), None, None)
