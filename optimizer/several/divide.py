"""The whole search for several stones: candidates, choice, separating cuts, refinement.

Largest first gives the first division. Then, in rounds, the best set of candidates is chosen,
separated by saw cuts (a set that can't be separated is barred, with proof where there is one),
filled up and refined. Then ruin and recreate: single stones are taken out of the best division and
the gap is filled again, as long as that gains. In the end each stone is searched again in its own
cell, with its free parameters, and the best division is refined from many starts.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.mesh import Floats
from optimizer.several.cell_search import search_cells
from optimizer.several.cut_tree import neighbours
from optimizer.several.greedy import greedy
from optimizer.several.incumbents import Incumbents, feasible
from optimizer.several.instance import Search
from optimizer.several.model import Candidate, Division, PlacedStone, allowance_mm
from optimizer.several.pool import enlarged, pool, pose_grids
from optimizer.several.pose_grids import PoseGrid
from optimizer.several.refine import refine
from optimizer.several.selection import ChosenSet, Selection
from optimizer.several.separation import separate

SHOWN = 3  # divisions with other numbers of stones
FEWER = 1  # at most so many rounds have one stone fewer than the round before


@dataclass(frozen=True)
class DivisionBudget:
    """How long a search goes on."""

    rounds: int  # sets of candidates that are sawn apart and refined
    barred: int  # sets, at most, that turn out locked
    sweeps: int  # of ruin and recreate, each through the stones of the best division
    removed: int  # stones taken out in a sweep, one at a time, the least first
    cells: int  # stones of a division, at most, that are searched again in their cells
    restarts: int  # of the last refinement, divided by the number of stones
    work: float  # of each choice, CP-SAT's own measure


BUDGETS = {
    "quick": DivisionBudget(1, 4, 0, 0, 0, 8, 1.0),
    "normal": DivisionBudget(6, 12, 2, 6, 8, 48, 3.0),
    "thorough": DivisionBudget(24, 48, 6, 24, 48, 240, 20.0),
}


@dataclass(frozen=True)
class SearchResult:
    """The best division found, others, and what is known of better ones."""

    best: Division
    others: tuple[Division, ...]  # the best with each other number of stones, most worth first
    choice: ChosenSet | None  # the first, which bounds what the candidates can give
    largest_first: float | None  # worth of that division; None where it lacked a stone needed


def divide(search: Search) -> SearchResult | None:
    """The division of most worth found; None where none has all stones that the wishes need.

    The same input gives the same division. A stop leaves the best so far.
    """
    instance, watch = search.instance, search.watch
    grids = pose_grids(search)
    incumbents = Incumbents(instance, watch)
    first = _filled_up(search, grids, None)
    incumbents.add(first)
    if first is not None:
        incumbents.add(Division(first.stones[:1], 0))  # one large stone
    choice = None
    if not watch.stop():
        found = tuple(one for one in pool(search, grids) if instance.look_met(one.stone))
        choice = _rounds(search, grids, incumbents, enlarged(found, incumbents.candidates()))
    _ruin_and_recreate(search, grids, incumbents)
    best = [incumbents.best] if incumbents.best else []
    for division in (*best, *incumbents.others()[:SHOWN]):
        _search_cells(search, grids, incumbents, division)
    _restart(search, incumbents)
    if incumbents.best is None:
        return None
    largest_first = first is not None and feasible(instance, first)
    return SearchResult(
        incumbents.best,
        incumbents.others()[:SHOWN],
        choice,
        instance.division_worth(first) if first and largest_first else None,
    )


def _rounds(
    search: Search,
    grids: Sequence[PoseGrid],
    incumbents: Incumbents,
    found: tuple[Candidate, ...],
) -> ChosenSet | None:
    """Choose, separate, fill up, refine; then again with one stone fewer, so that each may grow
    larger, then without what was chosen before. The first choice."""
    instance, watch, budget = search.instance, search.watch, BUDGETS[search.effort]
    apart, first = 2.0 * allowance_mm(instance.workshop), None
    selection = Selection.of(
        found, instance.wishes, apart, most=search.most, cut=instance.worth.cut
    )
    barred: list[frozenset[int]] = []
    locked, done, most = 0, 0, search.most
    while done < budget.rounds and locked < budget.barred and not watch.stop():
        choice = replace(selection, most=most).best(barred, work=budget.work, stop=watch.stop)
        if choice is None or not choice.chosen:
            break
        first = first or choice
        stones = tuple(selection.pool[i].stone for i in choice.chosen)
        corners = [s.placement.mesh().vertices for s in stones]
        separation = separate(corners, apart, list(_preferred_normals(search, stones)))
        if separation.cut_tree is None:
            locked += 1
            barred.append(frozenset(choice.chosen[i] for i in separation.locked))
            continue
        done += 1
        division = Division(stones, separation.cut_tree)
        incumbents.add(_refined(search, division))
        incumbents.add(_filled_up(search, grids, division))
        if len(stones) > 2 and done <= FEWER:
            most = len(stones) - 1
        else:
            most = search.most
            barred.append(frozenset(choice.chosen[: (len(stones) + 1) // 2]))
        worth = f"{incumbents.worth:.2f} {instance.worth.unit}"
        watch.progress(f"sawing apart, best so far {worth}", done, budget.rounds, 0.0)
    return first


def _preferred_normals(search: Search, stones: Sequence[PlacedStone]) -> Iterator[Floats]:
    """Normals that make a cut easy to set up: the rough's flats, then the stones' tables."""
    for face in search.rough.reference_faces:
        yield face.plane.normal
    for stone in stones:
        yield stone.placement.pose.rotation[:, 2]


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


def _restart(search: Search, incumbents: Incumbents) -> None:
    """Refine the best division from many starts close to it."""
    best = incumbents.best
    if best is not None and not search.watch.stop():
        tries = BUDGETS[search.effort].restarts // len(best.stones)
        incumbents.add(
            refine(search.instance, best, effort=search.effort, watch=search.watch, tries=tries)
        )
