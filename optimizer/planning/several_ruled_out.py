"""Why no division has all the stones that an order needs: searches that need fewer of a kind."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from optimizer.offers.placement_cache import PlacementCache
from optimizer.plan_model import Plan, RuledOut, Stone
from optimizer.planning.finished import stone_of
from optimizer.planning.relaxation_search import WORK, RelaxationSearch, single_relaxations
from optimizer.planning.ruled_out import no_room
from optimizer.rough.model import Rough
from optimizer.several.divide import SearchResult, divide
from optimizer.several.incumbents import feasible
from optimizer.several.instance import Search
from optimizer.several.model import Division, Wish
from optimizer.wording.plain_number import plain

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

    def greatest_counts(self) -> tuple[int, ...]:
        """How many stones of each of these wishes the division has that has most of them all."""
        counts = [
            tuple(sum(stone.wish == number for stone in division.stones) for number in self.wishes)
            for division in self.divisions
        ]
        return max(counts, key=sum)


def relaxed_results(search: Search) -> tuple[RelaxedResult, ...]:
    """Quick searches in which one of the wishes that need stones needs none. Where there are many
    such wishes, only the first are tried. Where no single wish stands in the way, one search in
    which none of them needs a stone. A stop ends the searches early."""
    needed = [number for number, wish in enumerate(search.instance.wishes) if wish.least]
    first = needed[: MOST_RELAXED[search.effort]]
    single = [_relaxed_result(search, (number,)) for number in first]
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


def with_reasons(plan: Plan, search: Search, relaxed: Sequence[RelaxedResult]) -> Plan:
    """``plan`` with each kind of stone that alone stands in the way, and the most stones found of
    it. Where no stone was found at all, with each demand that alone stands in the way of one."""
    wishes = search.instance.wishes
    reasons = [
        RuledOut(_needed(wishes[one.wishes[0]]), _heaviest(plan.rough, one.result.best))
        for one in relaxed
        if len(one.wishes) == 1
    ]
    sentences = [_counts_sentence(wishes, one) for one in relaxed]
    cramped = no_room(search.instance.ground, wishes[0].offers[0])
    if not relaxed and not cramped:
        relaxation_search = RelaxationSearch(WORK[plan.effort])
        reasons += _demands_in_the_way(plan, search, relaxation_search)
        sentences += relaxation_search.untried_line()
    sentences += cramped
    return replace(plan, ruled_out_by=tuple(reasons), warnings=(*plan.warnings, *sentences))


def with_saw_reach_as_reason(plan: Plan, division: Division) -> Plan:
    """``plan``, which says that the saw's reach alone stands in the way of ``division``."""
    demand = f"the saw: a reach of {plain(plan.order.workshop.saw_reach_mm)} mm"
    return replace(plan, ruled_out_by=(RuledOut(demand, _heaviest(plan.rough, division)),))


def _needed(wish: Wish) -> str:
    return f'the wanted "{wish.name}": {wish.least} of them'


def _heaviest(rough: Rough, division: Division) -> Stone:
    heaviest = max(division.stones, key=lambda stone: stone.volume_mm3)
    return stone_of(rough, replace(heaviest.offer, freedom=None), heaviest.placement, None)


def _counts_sentence(wishes: Sequence[Wish], relaxed: RelaxedResult) -> str:
    counts = ", ".join(
        f'{count} of {wishes[number].least} "{wishes[number].name}"'
        for number, count in zip(relaxed.wishes, relaxed.greatest_counts(), strict=True)
    )
    beside = ", beside all else that is needed" if len(relaxed.wishes) == 1 else " together"
    return f"The most that the search found: {counts}{beside}."


def _demands_in_the_way(
    plan: Plan, search: Search, relaxation_search: RelaxationSearch
) -> Iterator[RuledOut]:
    """Each demand on a stone of a wish, and each flaw, without which a stone is found."""
    wishes = search.instance.wishes
    for wish in [one for one in wishes if one.least] or wishes:
        name = f'the wanted "{wish.name}": ' if plan.order.wanted else ""
        relaxations = single_relaxations(plan.rough, wish.order, name)
        cache = PlacementCache(search.instance.ground, plan.seed, search.watch)
        found = relaxation_search.stones_found(relaxations, plan.rough, wish.order, cache)
        for relaxation, stone in found:
            yield RuledOut(relaxation.sentence, stone_of(plan.rough, *stone, None))
