"""The last work on a good division: ruin and recreate, cells searched anew, refinement from many
starts."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optimizer.several.cell_search import search_cells
from optimizer.several.cut_tree import neighbours
from optimizer.several.division_budget import BUDGETS
from optimizer.several.greedy import greedy
from optimizer.several.incumbents import Incumbents, is_gain
from optimizer.several.instance import Search
from optimizer.several.model import Division
from optimizer.several.pose_grids import PoseGrid
from optimizer.several.refine import refine


def refined(search: Search, division: Division) -> Division:
    """The division refined, where its stones then still look as wished."""
    found = refine(search.instance, division, effort=search.effort, watch=search.watch)
    if found is None or not all(map(search.instance.look_met, found.stones)):
        return division
    return found


def filled_up(
    search: Search,
    grids: Sequence[PoseGrid],
    start: Division,
    around: Sequence[int] | None = None,
) -> Division | None:
    """Stones added largest first to ``start``, up to ``search.most``, beside those ``around`` or
    all; then refined. None where no stone was added."""
    division = greedy(search, grids, start, around)
    if division is None or len(division.stones) <= len(start.stones):
        return None
    return refined(search, division)


def finish(search: Search, grids: Sequence[PoseGrid], incumbents: Incumbents, number: int) -> None:
    """Work on the best division of a number of stones. None of its steps adds a stone."""
    search = replace(search, most=number)
    _ruin_and_recreate(search, grids, incumbents)
    _search_cells(search, grids, incumbents)
    _restart(search, incumbents)


def _ruin_and_recreate(search: Search, grids: Sequence[PoseGrid], incumbents: Incumbents) -> None:
    """Take each stone of the best division out, the least first, and fill the gap again."""
    budget = BUDGETS[search.effort]
    for _ in range(budget.sweeps):
        best, before = incumbents.of(search.most), incumbents.worth_of(search.most)
        if best is None or len(best.stones) == 1:
            return
        order = np.argsort([s.volume_mm3 for s in best.stones], kind="stable")
        for number in map(int, order[: budget.removed]):
            if search.watch.stop():
                return
            beside = neighbours(best.cut_tree, number)
            around = [k - (k > number) for k in beside]
            incumbents.add(filled_up(search, grids, best.without(number), around))
        if not is_gain(before, incumbents.worth_of(search.most)):
            return


def _search_cells(search: Search, grids: Sequence[PoseGrid], incumbents: Incumbents) -> None:
    """Search each stone in its own cell, then refine all together."""
    count, best = BUDGETS[search.effort].cells, incumbents.of(search.most)
    if count and best is not None and not search.watch.stop():
        new = search_cells(
            search.instance, grids, best, count=count, seed=search.seed, watch=search.watch
        )
        incumbents.add(new)
        incumbents.add(refined(search, new))


def _restart(search: Search, incumbents: Incumbents) -> None:
    """Refine the division from many starts close to it."""
    best = incumbents.of(search.most)
    if best is not None and not search.watch.stop():
        tries = BUDGETS[search.effort].restarts // len(best.stones)
        incumbents.add(
            refine(search.instance, best, effort=search.effort, watch=search.watch, tries=tries)
        )
