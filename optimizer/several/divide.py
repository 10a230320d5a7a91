"""The whole search for several stones: candidates, choice, cuts that part them, refinement.

Largest first gives the first division. Then, round by round, the best set of candidates is chosen,
parted by saw cuts (what can't be parted is barred, with proof where there is one), filled up and
refined. Then single stones are taken out of the best division and the gap is filled anew, as long
as that brings more. In the end each stone is searched anew in its own cell, its free parameters as
well.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.search import Watch
from optimizer.rough.model import Rough
from optimizer.several.anew import searched_anew
from optimizer.several.forks import neighbours, without
from optimizer.several.greedy import greedy
from optimizer.several.joined import Site
from optimizer.several.model import (
    Candidate,
    Division,
    PlacedStone,
    allowance_mm,
)
from optimizer.several.pairs import odd_ones
from optimizer.several.parting import part
from optimizer.several.pool import enlarged, pool, soundings_of
from optimizer.several.refine import refine
from optimizer.several.selection import ChosenSet, Selection
from optimizer.several.soundings import Sounding

SHOWN = 3  # divisions with other numbers of stones
FEWER = 1  # rounds, at most, each with fewer stones than the last
BETTER = 1e-4  # of the worth: less is no reason to go on


@dataclass(frozen=True)
class DivisionBudget:
    """How long a search goes on."""

    rounds: int  # sets of candidates that are sawn apart and refined
    barred: int  # sets, at most, that turn out unsawable
    sweeps: int  # through all stones of the best division, each taken out once
    out: int  # stones taken out in a sweep, the least first
    anew: int  # stones of the best division, at most, that are searched anew in their cells
    tries: int  # starts anew of the last refinement, shared by the stones: each costs as many
    work: float  # of each choice, CP-SAT's own measure


BUDGETS = {
    "quick": DivisionBudget(1, 4, 0, 0, 0, 8, 1.0),
    "normal": DivisionBudget(6, 12, 2, 6, 8, 48, 3.0),
    "thorough": DivisionBudget(24, 48, 6, 24, 48, 240, 20.0),
}


@dataclass(frozen=True)
class Divided:
    """The best division found, others of another kind, and what is known of better ones."""

    best: Division
    others: tuple[Division, ...]  # the best with each other number of stones, most worth first
    choice: ChosenSet | None  # the first, which bounds what the candidates can give
    largest_first: float | None  # worth of that division, not refined; None: it fell short


@dataclass(frozen=True)
class Search:
    """What all steps of a search share."""

    rough: Rough
    site: Site
    most: int  # stones in all
    effort: str
    seed: int
    watch: Watch


def divide(search: Search) -> Divided | None:
    """The division of most worth found; None where none has all stones that the wishes need.

    The same input gives the same division. A stop leaves the best so far.
    """
    site, watch = search.site, search.watch
    soundings = soundings_of(
        search.rough, site.ground, site.wishes, effort=search.effort, seed=search.seed, watch=watch
    )
    kept = _Kept(site, watch)
    first = _filled(search, soundings, None)
    kept.add(first)
    if first is not None:
        kept.add(Division(first.stones[:1], 0))  # one large
    choice = None
    if not watch.stop():
        found = _pool(search, soundings)
        choice = _rounds(search, soundings, kept, enlarged(found, kept.candidates()))
    _sweeps(search, soundings, kept)
    for division in (*([kept.best] if kept.best else []), *kept.others()[:SHOWN]):
        _anew(search, soundings, kept, division)
    _tried(search, kept)
    if kept.best is None:
        return None
    enough = first is not None and fits(site, first)
    return Divided(
        kept.best, kept.others()[:SHOWN], choice, site.total(first) if first and enough else None
    )


def _pool(search: Search, soundings: Sequence[Sounding]) -> tuple[Candidate, ...]:
    site = search.site
    found = pool(
        search.rough,
        site.ground,
        soundings,
        site.wishes,
        site.worth,
        site.workshop,
        effort=search.effort,
        watch=search.watch,
    )
    return tuple(one for one in found if site.met(one.laid))


def fits(site: Site, division: Division) -> bool:
    """Whether every wish has the stones that it needs, and all of them look as wished."""
    laid = np.bincount([one.wish for one in division.stones], minlength=len(site.wishes))
    enough = all(count >= wish.least for count, wish in zip(laid, site.wishes, strict=True))
    return enough and all(map(site.met, division.stones))


class _Kept:
    """The best division of each number of stones."""

    def __init__(self, site: Site, watch: Watch) -> None:
        self.site, self.watch = site, watch
        self._by_number: dict[int, Division] = {}

    def add(self, division: Division | None) -> bool:
        """Keep it where it is better than all; tells whether it was."""
        division = division and in_pairs(self.site, division)
        if division is None or not fits(self.site, division):
            return False
        worth, best = self.site.total(division), self.worth
        number = len(division.stones)
        same = self._by_number.get(number)
        if same is None or worth > self.site.total(same):
            self._by_number[number] = division
            self.watch.keeps()
        return worth > best + BETTER * abs(best)

    @property
    def worth(self) -> float:
        """Of the best."""
        return max(map(self.site.total, self._by_number.values()), default=0.0)

    @property
    def best(self) -> Division | None:
        """Of all."""
        return max(self._by_number.values(), key=self.site.total, default=None)

    def others(self) -> tuple[Division, ...]:
        """All but the best, most worth first."""
        ranked = sorted(self._by_number.values(), key=lambda d: -self.site.total(d))
        return tuple(ranked[1:])

    def candidates(self) -> list[Candidate]:
        """The stones of all that is kept."""
        stones = (s for d in self._by_number.values() for s in d.stones)
        return [candidate(self.site, stone) for stone in stones]


def candidate(site: Site, laid: PlacedStone) -> Candidate:
    """A stone with its worth."""
    return Candidate(laid, site.value(laid, laid.placement.pose.width))


def _rounds(
    search: Search, soundings: Sequence[Sounding], kept: _Kept, found: tuple[Candidate, ...]
) -> ChosenSet | None:
    """Choose, part, fill up, refine; again with fewer stones, which may each grow the more, then
    without what was chosen before."""
    site, watch, budget = search.site, search.watch, BUDGETS[search.effort]
    gap, first = 2.0 * allowance_mm(site.workshop), None
    made = Selection.of(found, site.wishes, gap, most=search.most, cut=site.worth.cut)
    barred: list[frozenset[int]] = []
    unsawable, done, fewer = 0, 0, search.most
    while done < budget.rounds and unsawable < budget.barred and not watch.stop():
        choice = replace(made, most=fewer).best(barred, work=budget.work, stop=watch.stop)
        if choice is None or not choice.chosen:
            break
        first = first or choice
        stones = tuple(made.pool[i].laid for i in choice.chosen)
        parted = part(
            [s.placement.mesh().vertices for s in stones], gap, list(_preferred(search, stones))
        )
        if parted.fork is None:
            unsawable += 1
            barred.append(frozenset(choice.chosen[i] for i in parted.locked))
            continue
        done += 1
        kept.add(_better(search, Division(stones, parted.fork)))
        kept.add(_filled(search, soundings, Division(stones, parted.fork)))
        if len(stones) > 2 and done <= FEWER:
            fewer = len(stones) - 1
        else:
            fewer = search.most
            barred.append(frozenset(choice.chosen[: (len(stones) + 1) // 2]))
        worth = f"{kept.worth:.2f} {site.worth.unit}"
        watch.progress(f"sawing apart, {worth} so far", done, budget.rounds, 0.0)
    return first


def _preferred(search: Search, stones: Sequence[PlacedStone]) -> Iterator[Floats]:
    """Normals that make a cut easy to set up: the rough's flats, then the stones' tables."""
    for face in search.rough.reference_faces:
        yield face.plane.normal
    for stone in stones:
        yield stone.placement.pose.rotation[:, 2]


def _filled(
    search: Search,
    soundings: Sequence[Sounding],
    start: Division | None,
    around: Sequence[int] | None = None,
) -> Division | None:
    """Largest first from ``start`` on, beside these of its stones or all, then refined."""
    division = greedy(
        search.site,
        soundings,
        search.most,
        effort=search.effort,
        seed=search.seed,
        watch=search.watch,
        start=start,
        around=around,
    )
    return None if division is None else _better(search, division)


def _better(search: Search, division: Division) -> Division:
    refined = refine(search.site, division, effort=search.effort, watch=search.watch)
    if refined is None or not all(map(search.site.met, refined.stones)):
        return division
    return refined


def _anew(search: Search, soundings: Sequence[Sounding], kept: _Kept, division: Division) -> None:
    """Each stone in its own cell, then all together."""
    count = BUDGETS[search.effort].anew
    if count and not search.watch.stop():
        new = searched_anew(
            search.site, soundings, division, count=count, seed=search.seed, watch=search.watch
        )
        kept.add(new)
        kept.add(_better(search, new))


def _sweeps(search: Search, soundings: Sequence[Sounding], kept: _Kept) -> None:
    """Take each stone of the best division out, the least first, and fill the gap anew."""
    budget = BUDGETS[search.effort]
    for _ in range(budget.sweeps):
        best, gained = kept.best, False
        if best is None:
            return
        order = np.argsort([s.volume_mm3 for s in best.stones], kind="stable")
        for number in map(int, order[: budget.out]):
            if search.watch.stop() or len(best.stones) == 1:
                return
            beside = neighbours(best.fork, number)
            fresh = [k - (k > number) for k in beside]
            gained |= kept.add(_filled(search, soundings, without(best, number), fresh))
        if not gained:
            return


def _tried(search: Search, kept: _Kept) -> None:
    """Refine the best division from many starts close by."""
    best = kept.best
    if best is not None and not search.watch.stop():
        tries = BUDGETS[search.effort].tries // len(best.stones)
        kept.add(refine(search.site, best, effort=search.effort, watch=search.watch, tries=tries))


def in_pairs(site: Site, division: Division) -> Division | None:
    """The division without stones that were wanted in pairs and are left over."""
    odd = odd_ones(division.stones, site.wishes)
    if len(odd) == len(division.stones):
        return None
    for number in reversed(odd):
        division = without(division, number)
    return division
