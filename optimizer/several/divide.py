"""The whole search for several stones: layouts, candidates, choice, separating cuts, refinement.

The search counts up: the best division into 1 stone is sought, into 2, and so on. So a search for
more stones begins with all the work of a search for fewer, and no step up to a number depends on
how many more stones there may be. A search of more effort begins with the divisions of the lesser.

For each number, layouts are squeezed (``squeeze.py``). The best sets of candidates, of all designs
and of one design each, are separated by saw cuts (a set that can't be separated is barred, with
proof where there is one). The best division of one stone fewer is filled up, or a stone is inserted
for which all others must make room (``insertion.py``). All are refined. In the end the best
divisions are worked on (``finishing.py``): ruin and recreate, each stone searched again in its own
cell with its free parameters, and refinement from many starts.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

from optimizer.running.workers import workers
from optimizer.several.chosen import separable_sets
from optimizer.several.division_budget import BUDGETS
from optimizer.several.finishing import filled_up, finish, refined
from optimizer.several.greedy import greedy
from optimizer.several.incumbents import Incumbents, feasible, is_gain
from optimizer.several.insertion import with_insertion
from optimizer.several.instance import Search
from optimizer.several.layouts import brick_layouts, trimmed, without_all
from optimizer.several.model import Candidate, Division, allowance_mm
from optimizer.several.pool import enlarged, pool, pose_grids
from optimizer.several.selection import ChosenSet, Selection
from optimizer.several.squeeze import squeezed

SHOWN = 3  # divisions with other numbers of stones
PATIENCE = 2  # numbers of stones above that of the best division; above these, layouts alone
FAR = 0.9  # of the best worth by less effort: a number whose division has less is left at that
NEAR = 0.98  # of the best worth: only divisions that have as much are worked on in the end
ALONE = 2  # designs, at most, of which sets are chosen by themselves for each number
IDEAL = 1e-9  # relative rounding


@dataclass(frozen=True)
class SearchResult:
    """The best division found, others, and what is known of better ones."""

    best: Division
    others: tuple[Division, ...]  # the best with each other number of stones, most worth first
    choice: ChosenSet | None  # of any number, which bounds what the candidates can give
    largest_first: float | None  # worth of that division; None where it lacked a stone needed


def divide(search: Search) -> SearchResult | None:
    """The division of most worth found; None where none has all stones that the wishes need.

    The same input gives the same division. A stop leaves the best so far.
    """
    incumbents, first = Incumbents(search.instance, search.watch), None
    efforts = list(BUDGETS)
    for effort in efforts[: efforts.index(search.effort) + 1]:
        one = _Search(replace(search, effort=effort), incumbents, first)
        one.run()
        first = one.first
    if incumbents.best is None:
        return None
    return SearchResult(incumbents.best, incumbents.others()[:SHOWN], one.choice, one.largest_first)


class _Search:
    """A search of one effort, from the divisions and the stones laid largest first by less."""

    def __init__(self, search: Search, incumbents: Incumbents, first: Division | None) -> None:
        self.search, self.budget = search, BUDGETS[search.effort]
        self.instance, self.watch = search.instance, search.watch
        self.incumbents = incumbents
        self.known = {number: incumbents.worth_of(number) for number in incumbents.numbers()}
        self.grids = pose_grids(search)
        self.first = greedy(search, self.grids) if first is None else first
        self.largest_first: float | None = None
        self.choice: ChosenSet | None = None

    def run(self) -> None:
        """Count up to the most stones that there may be."""
        search, watch = self.search, self.watch
        if self.first is not None:
            self.incumbents.add(_first_stones(self.first, 1))
            if feasible(self.instance, self.first):
                self.largest_first = self.instance.division_worth(refined(search, self.first))
        if watch.stop():
            self.incumbents.add(self.first)
            return
        self.pool = pool(search, self.grids)
        self.bricks = brick_layouts(search, self.grids)
        shown = zip(self.pool.candidates, self.pool.pieces, strict=True)
        seen = [(one, pieces) for one, pieces in shown if self.instance.look_met(one.stone)]
        found, self.pieces = [one for one, _ in seen], [pieces for _, pieces in seen]
        self.selection = self._selection(found)
        for number in range(1, search.most + 1):
            if watch.stop():
                break
            if self._is_open(number):
                self._of_number(number)
            else:
                self._squeeze(number)
            worth = f"{self.incumbents.worth:.2f} {self.instance.worth.unit}"
            watch.progress(f"dividing, {worth} so far", number, search.most, 0.0)
        self._of_any_number()
        self._finish()

    def _selection(self, found: Collection[Candidate]) -> Selection:
        wishes, apart = self.instance.wishes, 2.0 * allowance_mm(self.instance.workshop)
        return Selection.of(
            tuple(found), wishes, apart, most=self.search.most, cut=self.instance.worth.cut
        )

    def _is_open(self, number: int) -> bool:
        """Whether divisions of a number may be the best: not long after the best so far, and not
        far behind by a search of less effort."""
        needed = sum(wish.least for wish in self.instance.wishes)
        best = self.incumbents.best
        if best is None or number < needed:
            return True
        far = self.known.get(number, self.incumbents.worth) < FAR * self.incumbents.worth
        return number <= len(best.stones) + PATIENCE and not far

    def _of_number(self, number: int) -> None:
        """Seek the best division with so many stones."""
        search, incumbents = replace(self.search, most=number), self.incumbents
        before = max(map(incumbents.worth_of, range(number)), default=0.0)
        self._squeeze(number)
        if self._is_ideal(number):
            return
        starts = list(self._starts(number))
        if self.first is not None and len(self.first.stones) >= number:
            starts.append(_first_stones(self.first, number))
        self._add_refined(search, starts)
        fewer = incumbents.below(number)
        gained = is_gain(before, incumbents.worth_of(number))
        if fewer is None or (gained and not self.budget.fills):
            return
        added = filled_up(search, self.grids, fewer)
        incumbents.add(added)
        if added is None:
            for division in with_insertion(search, self.grids, fewer, self.budget.insertions):
                incumbents.add(division)

    def _starts(self, number: int) -> Iterator[Division]:
        """Sets of at most so many candidates, of all designs and then of one each."""
        selection = replace(self.selection, most=number)
        later = {k for k, pieces in enumerate(self.pieces) if pieces > number}
        for excluded, count in (
            (later, self.budget.sets),
            *self._all_but_one_design(number, later),
        ):
            for choice, division in self._sets(selection, count, excluded):
                self.choice = choice
                yield division

    def _all_but_one_design(self, number: int, later: set[int]) -> Iterator[tuple[set[int], int]]:
        """The candidates to exclude for a set of one design, for each of the designs whose best
        candidates are worth most."""
        pool, own = self.selection.pool, defaultdict[str, list[int]](list)
        for k in sorted(set(range(len(pool))) - later):
            own[pool[k].stone.offer.design.name].append(k)
        worth = {name: sum(pool[k].worth for k in own[name][:number]) for name in own}
        for name in sorted(own, key=lambda one: -worth[one])[:ALONE] if len(own) > 1 else ():
            yield set(range(len(pool))) - set(own[name]), 1

    def _sets(
        self, selection: Selection, count: int, excluded: Collection[int] = ()
    ) -> Iterator[tuple[ChosenSet, Division]]:
        budget = self.budget
        return separable_sets(
            self.search, selection, excluded, rounds=count, locked=budget.barred, work=budget.work
        )

    def _add_refined(self, search: Search, starts: Sequence[Division]) -> None:
        """Refine divisions side by side."""
        with workers() as threads:
            for division in threads.map(lambda start: refined(search, start), starts):
                self.incumbents.add(division)

    def _of_any_number(self) -> None:
        """Choose among all candidates and all stones of the divisions kept."""
        found = enlarged(self.selection.pool, self.incumbents.candidates())
        for choice, division in self._sets(self._selection(found), 1):
            self.choice = choice
            self._add_refined(self.search, [division])

    def _finish(self) -> None:
        """Work on the best divisions."""
        incumbents = self.incumbents
        near = [
            n for n in incumbents.numbers() if incumbents.worth_of(n) >= NEAR * incumbents.worth
        ]
        for number in near[: self.budget.finished]:
            if not self._is_ideal(number):
                finish(self.search, self.grids, incumbents, number)

    def _squeeze(self, number: int) -> None:
        """Squeeze layouts, cut down to a number of stones: bricks, and rows, until some come out
        whole, and the best layouts of every other kind."""
        search, count = replace(self.search, most=number), self.budget.layouts
        kinds = [(layouts, True) for layouts in self.bricks]
        kinds += [(list(kind.get(number, ())), False) for kind in self.pool.layouts]
        for layouts, until_whole in kinds:
            for layout in layouts[:count]:
                if self.watch.stop() or self._is_ideal(number):
                    return
                if len(layout.stones) >= number:
                    done = squeezed(search, trimmed(self.instance, layout, number))
                    self.incumbents.add(done)
                    if until_whole and done is not None and len(done.stones) == number:
                        break

    def _is_ideal(self, number: int) -> bool:
        """Whether all stones of the best division of a number are the best that the order allows,
        each in its greatest size, so that none can be worth more."""
        own, instance = self.incumbents.of(number), self.instance
        if own is None:
            return False
        offers = [offer for wish in instance.wishes for offer in wish.offers]
        greatest = max(instance.offer_worth(one, one.want.width_mm[1]) for one in offers)
        ideal = number * greatest - (number - 1) * instance.worth.cut
        return instance.division_worth(own) >= ideal * (1.0 - IDEAL)


def _first_stones(division: Division, number: int) -> Division:
    """The division with no more than its first stones."""
    return without_all(division, set(range(number, len(division.stones))))
