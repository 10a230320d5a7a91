"""Why there is no plan of several stones: which kind, needed by fewer, would leave one."""

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

ALONE = {"quick": 3, "normal": 6, "thorough": 12}  # wishes whose need is left out, each by itself


@dataclass(frozen=True)
class LoosenedDivision:
    """What a quick look found once some wishes need no stone."""

    wishes: tuple[int, ...]  # by number
    divided: SearchResult

    @property
    def divisions(self) -> tuple[Division, ...]:
        """The best and the others."""
        return (self.divided.best, *self.divided.others)

    def most(self) -> tuple[int, ...]:
        """How many stones of each of these wishes were found, in the division with most of all."""
        counts = [
            tuple(sum(one.wish == number for one in division.stones) for number in self.wishes)
            for division in self.divisions
        ]
        return max(counts, key=sum)


def without_needs(search: Search) -> tuple[LoosenedDivision, ...]:
    """Each wish that needs stones, by itself without that need (of very many the first); where none
    alone stands in the way, all of them together. A stop ends it early."""
    needed = [number for number, wish in enumerate(search.instance.wishes) if wish.least]
    alone = [_looser(search, (number,)) for number in needed[: ALONE[search.effort]]]
    found = tuple(one for one in alone if one is not None)
    if found or len(needed) < 2:
        return found
    together = _looser(search, tuple(needed))
    return () if together is None else (together,)


def _looser(search: Search, numbers: tuple[int, ...]) -> LoosenedDivision | None:
    if search.watch.stop():
        return None
    wishes = list(search.instance.wishes)
    for number in numbers:
        wishes[number] = replace(wishes[number], least=0)
    instance = replace(search.instance, wishes=tuple(wishes))
    divided = divide(replace(search, instance=instance, effort="quick"))
    return None if divided is None else LoosenedDivision(numbers, divided)


def after_all(search: Search, looser: Sequence[LoosenedDivision]) -> SearchResult | None:
    """The best of these divisions that has all that is needed, though it was not asked for."""
    whole = [d for one in looser for d in one.divisions if feasible(search.instance, d)]
    best = max(whole, key=search.instance.division_worth, default=None)
    return None if best is None else SearchResult(best, (), None, None)


def with_needs(plan: Plan, search: Search, looser: Sequence[LoosenedDivision]) -> Plan:
    """Say which kind of stone alone stands in the way, and how many were found at most; where
    there is no stone at all, which demand on a stone does."""
    wishes = search.instance.wishes
    reasons = [
        RuledOut(_need(wishes[one.wishes[0]]), _heaviest(plan.rough, one.divided.best))
        for one in looser
        if len(one.wishes) == 1
    ]
    said = [_found_line(wishes, one) for one in looser]
    cramped = no_room(search.instance.ground, wishes[0].offers[0])
    if not looser and not cramped:
        demands = RelaxationSearch(WORK[plan.effort])
        reasons += _demands(plan, search, demands)
        said += demands.untried_line()
    said += cramped
    return replace(plan, ruled_out_by=tuple(reasons), warnings=(*plan.warnings, *said))


def out_of_reach(plan: Plan, division: Division) -> Plan:
    """Say that the saw's reach stands in the way of a division."""
    demand = f"the saw: a reach of {plain(plan.order.workshop.saw_reach_mm)} mm"
    return replace(plan, ruled_out_by=(RuledOut(demand, _heaviest(plan.rough, division)),))


def _need(wish: Wish) -> str:
    return f'the wanted "{wish.name}": {wish.least} of them'


def _heaviest(rough: Rough, division: Division) -> Stone:
    laid = max(division.stones, key=lambda one: one.volume_mm3)
    return stone_of(rough, replace(laid.offer, freedom=None), laid.placement, None)


def _found_line(wishes: Sequence[Wish], looser: LoosenedDivision) -> str:
    counts = ", ".join(
        f'{count} of {wishes[number].least} "{wishes[number].name}"'
        for number, count in zip(looser.wishes, looser.most(), strict=True)
    )
    beside = ", beside all else that is needed" if len(looser.wishes) == 1 else " together"
    return f"The most that the search found: {counts}{beside}."


def _demands(plan: Plan, search: Search, demands: RelaxationSearch) -> Iterator[RuledOut]:
    """Each demand on a stone of a wish, and each flaw, whose removal alone gives a stone."""
    wishes = search.instance.wishes
    for wish in [one for one in wishes if one.least] or wishes:
        name = f'the wanted "{wish.name}": ' if plan.order.wanted else ""
        looser = single_relaxations(plan.rough, wish.order, name)
        cache = PlacementCache(search.instance.ground, plan.seed, search.watch)
        for one, best in demands.stones_found(looser, plan.rough, wish.order, cache):
            yield RuledOut(one.sentence, stone_of(plan.rough, *best, None))
