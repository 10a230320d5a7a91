"""The whole search for several stones: layouts, candidates, choice, separating cuts, refinement.

The search counts up: the best division into 1 stone is sought, into 2, and so on. So a search for
more stones begins with all the work of a search for fewer, and no step up to a number depends on
how many more stones there may be. A search of more effort contains those of less.

For each number, layouts are squeezed (``squeeze.py``), the best set of candidates is chosen and
separated by saw cuts (a set that can't be separated is barred, with proof where there is one), and
refined. Then, in rounds, sets of any number are chosen, separated, filled up largest first and
refined. Then ruin and recreate: single stones are taken out of the best division and the gap is
filled again, as long as that gains. In the end each stone is searched again in its own cell, with
its free parameters, and the best division is refined from many starts.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.several.cell_search import search_cells
from optimizer.several.chosen import separable_sets
from optimizer.several.cut_tree import neighbours
from optimizer.several.greedy import greedy
from optimizer.several.incumbents import Incumbents, feasible
from optimizer.several.instance import Search
from optimizer.several.layouts import brick_layouts, trimmed, without_all
from optimizer.several.model import Division, allowance_mm
from optimizer.several.pool import enlarged, pool, pose_grids
from optimizer.several.pose_grids import PoseGrid
from optimizer.several.refine import refine
from optimizer.several.selection import ChosenSet, Selection
from optimizer.several.squeeze import squeezed

SHOWN = 3  # divisions with other numbers of stones
PATIENCE = 2  # after so many numbers of stones without a better division only layouts are squeezed
IDEAL = 1e-9  # relative rounding


@dataclass(frozen=True)
class DivisionBudget:
    """How long a search goes on."""

    rounds: int  # sets of candidates that are sawn apart and refined
    barred: int  # sets, at most, that turn out locked
    layouts: int  # of each kind that are squeezed
    sweeps: int  # of ruin and recreate, each through the stones of the best division
    removed: int  # stones taken out in a sweep, one at a time, the least first
    cells: int  # stones of a division, at most, that are searched again in their cells
    restarts: int  # of the last refinement, divided by the number of stones
    work: float  # of each choice, CP-SAT's own measure


BUDGETS = {
    "quick": DivisionBudget(1, 4, 3, 0, 0, 0, 8, 1.0),
    "normal": DivisionBudget(6, 12, 4, 2, 6, 8, 48, 3.0),
    "thorough": DivisionBudget(24, 48, 6, 6, 24, 48, 240, 20.0),
}


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
    incumbents = Incumbents(search.instance, search.watch)
    efforts = list(BUDGETS)
    for effort in efforts[: efforts.index(search.effort) + 1]:
        one = _Search(replace(search, effort=effort))
        one.run()
        for division in one.incumbents.all():
            incumbents.add(division)
    if incumbents.best is None:
        return None
    return SearchResult(incumbents.best, incumbents.others()[:SHOWN], one.choice, one.largest_first)


class _Search:
    """A search of one effort by itself."""

    def __init__(self, search: Search) -> None:
        self.search, self.budget = search, BUDGETS[search.effort]
        self.instance, self.watch = search.instance, search.watch
        self.grids = pose_grids(search)
        self.incumbents = Incumbents(self.instance, self.watch)
        self.first = greedy(search, self.grids)
        self.largest_first: float | None = None
        self.choice: ChosenSet | None = None

    def run(self) -> None:
        """Count up to the most stones that there may be."""
        search, watch = self.search, self.watch
        if self.first is not None:
            self.incumbents.add(_first_stones(self.first, 1))
            if feasible(self.instance, self.first):
                self.largest_first = self.instance.division_worth(_refined(search, self.first))
        if watch.stop():
            self.incumbents.add(self.first)
            return
        self.pool = pool(search, self.grids)
        self.bricks = brick_layouts(search, self.grids)[: self.budget.layouts]
        shown = zip(self.pool.candidates, self.pool.pieces, strict=True)
        seen = [(one, pieces) for one, pieces in shown if self.instance.look_met(one.stone)]
        found, self.pieces = [one for one, _ in seen], [pieces for _, pieces in seen]
        apart = 2.0 * allowance_mm(self.instance.workshop)
        self.selection = Selection.of(
            found, self.instance.wishes, apart, most=search.most, cut=self.instance.worth.cut
        )
        waited, needed = 0, sum(wish.least for wish in self.instance.wishes)
        for number in range(1, search.most + 1):
            if watch.stop():
                break
            before = self.incumbents.worth
            if waited < PATIENCE:
                self._of_number(number)
            else:
                self._squeeze(number)
            waited = 0 if self.incumbents.worth > before or number < needed else waited + 1
            worth = f"{self.incumbents.worth:.2f} {self.instance.worth.unit}"
            watch.progress(f"dividing, {worth} so far", number, search.most, 0.0)
        self._rounds()
        self._finish()

    def _of_number(self, number: int) -> None:
        """Seek the best division with so many stones."""
        search, incumbents = replace(self.search, most=number), self.incumbents
        if self.first is not None:
            incumbents.add(_refined(search, _first_stones(self.first, number)))
        self._squeeze(number)
        if self._is_ideal(number):
            return
        later = [k for k, pieces in enumerate(self.pieces) if pieces > number]
        for choice, division in self._sets(replace(self.selection, most=number), 1, later):
            self.choice = choice
            incumbents.add(
                _refined(search, division) if len(division.stones) == number else division
            )

    def _sets(
        self, selection: Selection, rounds: int, later: Collection[int] = ()
    ) -> Iterator[tuple[ChosenSet, Division]]:
        budget = self.budget
        return separable_sets(
            self.search, selection, later, rounds=rounds, locked=budget.barred, work=budget.work
        )

    def _rounds(self) -> None:
        """Choose among all candidates, refine and fill up, again and again."""
        search, incumbents = self.search, self.incumbents
        apart = 2.0 * allowance_mm(self.instance.workshop)
        found = enlarged(self.selection.pool, incumbents.candidates())
        selection = Selection.of(
            found, self.instance.wishes, apart, most=search.most, cut=self.instance.worth.cut
        )
        for done, (choice, division) in enumerate(self._sets(selection, self.budget.rounds), 1):
            self.choice = choice if done == 1 else self.choice
            incumbents.add(_refined(search, division))
            incumbents.add(_filled_up(search, self.grids, division))
            worth = f"{incumbents.worth:.2f} {self.instance.worth.unit}"
            self.watch.progress(f"sawing apart, {worth} so far", done, self.budget.rounds, 0.0)

    def _finish(self) -> None:
        """Work on the best divisions."""
        search, incumbents = self.search, self.incumbents
        if self._is_ideal(search.most):
            return
        _ruin_and_recreate(search, self.grids, incumbents)
        best = [incumbents.best] if incumbents.best else []
        for division in (*best, *incumbents.others()[:SHOWN]):
            _search_cells(search, self.grids, incumbents, division)
        if incumbents.best and self.budget.sweeps:
            _restart(search, incumbents, incumbents.best, self.budget.restarts)
        elif incumbents.best:
            for division in incumbents.all():
                _restart(search, incumbents, division, self.budget.restarts)

    def _squeeze(self, number: int) -> None:
        """Squeeze layouts, cut down to a number of stones, until one of a kind comes out whole."""
        search = replace(self.search, most=number)
        for layouts in (self.bricks, self.pool.layouts.get(number, ())):
            for layout in layouts[: self.budget.layouts]:
                if self.watch.stop() or self._is_ideal(number):
                    return
                if len(layout.stones) >= number:
                    done = squeezed(search, trimmed(self.instance, layout, number))
                    self.incumbents.add(done)
                    if done is not None and len(done.stones) == number:
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


def _filled_up(
    search: Search,
    grids: Sequence[PoseGrid],
    start: Division | None,
    around: Sequence[int] | None = None,
) -> Division | None:
    """Stones added largest first to ``start``, beside those ``around`` or all; then refined."""
    division = greedy(search, grids, start, around)
    return None if division is None else _refined(search, division)


def _refined(search: Search, division: Division) -> Division:
    """The division refined, where its stones then still look as wished."""
    refined = refine(search.instance, division, effort=search.effort, watch=search.watch)
    if refined is None or not all(map(search.instance.look_met, refined.stones)):
        return division
    return refined


def _search_cells(
    search: Search, grids: Sequence[PoseGrid], incumbents: Incumbents, division: Division
) -> None:
    """Search each stone in its own cell, then refine all together."""
    count = BUDGETS[search.effort].cells
    if count and not search.watch.stop():
        new = search_cells(
            search.instance, grids, division, count=count, seed=search.seed, watch=search.watch
        )
        incumbents.add(new)
        incumbents.add(_refined(search, new))


def _ruin_and_recreate(search: Search, grids: Sequence[PoseGrid], incumbents: Incumbents) -> None:
    """Take each stone of the best division out, the least first, and fill the gap again."""
    budget = BUDGETS[search.effort]
    for _ in range(budget.sweeps):
        best, gained = incumbents.best, False
        if best is None:
            return
        order = np.argsort([s.volume_mm3 for s in best.stones], kind="stable")
        for number in map(int, order[: budget.removed]):
            if search.watch.stop() or len(best.stones) == 1:
                return
            beside = neighbours(best.cut_tree, number)
            around = [k - (k > number) for k in beside]
            gained |= incumbents.add(_filled_up(search, grids, best.without(number), around))
        if not gained:
            return


def _restart(search: Search, incumbents: Incumbents, division: Division, restarts: int) -> None:
    """Refine a division from many starts close to it."""
    if not search.watch.stop():
        tries = restarts // len(division.stones)
        incumbents.add(
            refine(search.instance, division, effort=search.effort, watch=search.watch, tries=tries)
        )
