"""Which candidates to cut: the set of most worth whose stones lie far enough apart.

OR-Tools' CP-SAT finds the set and an upper bound. Stones that lie apart can't always be sawn apart:
a set that proves locked is barred, and the choice is made again.
"""

from collections.abc import Callable, Collection, Sequence
from concurrent.futures import ThreadPoolExecutor, TimeoutError
from dataclasses import dataclass
from typing import Any

import numpy as np

from optimizer.mesh import Ints
from optimizer.several.cliques import clique_cover
from optimizer.several.hull_distance import conflicts, corners_of
from optimizer.several.model import Candidate, Wish
from optimizer.several.pairs import is_pair

STEPS = 1e8  # worths become whole numbers: so many for the stone of most worth
WORK = 20.0  # CP-SAT's own deterministic seconds, about those of one core
ASK_S = 0.1  # how often a stop is asked for


@dataclass(frozen=True)
class ChosenSet:
    """A set of candidates, most worth first, with its value: its worth less its cuts. No set *of
    this pool* has a value above the bound, which says nothing of stones that are not in the
    pool."""

    chosen: tuple[int, ...]
    value: float
    bound: float


@dataclass(frozen=True, eq=False)
class Selection:
    """A pool with its constraints, ready to choose from again and again."""

    pool: tuple[Candidate, ...]
    wishes: tuple[Wish, ...]
    most: int  # stones in all
    cut: float  # what a cut costs; n stones take n - 1 at least
    cliques: tuple[Ints, ...]  # of candidates that exclude one another
    pairs: Ints  # (p, 2) of candidates that match, of wishes for pairs

    @staticmethod
    def of(
        pool: Sequence[Candidate],
        wishes: Sequence[Wish],
        apart_mm: float,
        *,
        most: int,
        cut: float = 0.0,
    ) -> "Selection":
        """Chosen stones lie ``apart_mm`` or more from one another; there are at most ``most``."""
        near = np.zeros((len(pool), len(pool)), np.bool_)
        if pool:
            corners = corners_of([c.stone.placement.mesh().vertices for c in pool])
            near = conflicts(corners, apart_mm)
        pairs = [
            (i, j)
            for i in range(len(pool))
            for j in range(i + 1, len(pool))
            if not near[i, j] and is_pair(pool[i].stone, pool[j].stone, wishes)
        ]
        return Selection(
            tuple(pool), tuple(wishes), most, cut, tuple(clique_cover(near)),
            np.array(pairs, np.int64).reshape(-1, 2),
        )  # fmt: skip

    def best(
        self,
        barred: Collection[frozenset[int]] = (),
        hint: Collection[int] = (),
        *,
        work: float = WORK,
        stop: Callable[[], bool] = lambda: False,
    ) -> ChosenSet | None:
        """The best set found that contains no ``barred`` set; None where no set has the counts of
        the wishes, or none was found.

        ``hint``: a set known to be good. Work is counted, never timed: the same input gives the
        same choice unless stopped.
        """
        model, takes, scale = self._model(barred, hint)
        solver = _solved(model, work, stop)
        if solver is None:
            return None
        chosen = tuple(
            sorted(
                (i for i, take in enumerate(takes) if solver.boolean_value(take)),
                key=lambda i: -self.pool[i].worth,
            )
        )
        value = self.value(chosen)
        bound = (solver.best_objective_bound + 0.5 * self.most) / scale
        return ChosenSet(chosen, value, max(bound, value))

    def value(self, chosen: Sequence[int]) -> float:
        """Worth of a set less its cuts."""
        return sum(self.pool[i].worth for i in chosen) - self.cut * max(len(chosen) - 1, 0)

    def _model(
        self, barred: Collection[frozenset[int]], hint: Collection[int]
    ) -> tuple[Any, list[Any], float]:
        """CP-SAT's model, its variable for each candidate, and how many steps stand for a worth of
        1."""
        from ortools.sat.python import cp_model

        model = cp_model.CpModel()
        takes = [model.new_bool_var("") for _ in self.pool]
        for clique in self.cliques:
            model.add_at_most_one(takes[i] for i in clique)
        for number, wish in enumerate(self.wishes):
            own = [t for t, c in zip(takes, self.pool, strict=True) if c.stone.wish == number]
            model.add_linear_constraint(sum(own), wish.least, wish.most)
        model.add(sum(takes) <= self.most)
        self._constrain_pairs(model, takes)
        for locked in barred:
            model.add_bool_or(~takes[i] for i in sorted(locked))
        scale = STEPS / (max((c.worth for c in self.pool), default=0.0) or 1.0)
        steps = [round((c.worth - self.cut) * scale) for c in self.pool]
        any_at_all = model.new_bool_var("")
        model.add(any_at_all <= sum(takes))
        objective = sum(s * take for s, take in zip(steps, takes, strict=True))
        model.maximize(objective + round(self.cut * scale) * any_at_all)
        for i, take in enumerate(takes):
            if hint:
                model.add_hint(take, i in hint)
        return model, takes, scale

    def _constrain_pairs(self, model: Any, takes: list[Any]) -> None:
        """Each chosen stone of a wish for pairs belongs to exactly one pair that matches."""
        own_pairs: list[list[Any]] = [[] for _ in self.pool]
        for i, j in self.pairs:
            pair = model.new_bool_var("")
            own_pairs[i].append(pair)
            own_pairs[j].append(pair)
        for take, candidate, own in zip(takes, self.pool, own_pairs, strict=True):
            if self.wishes[candidate.stone.wish].pair_mm is not None:
                model.add(sum(own) == take)


def _solved(model: Any, work: float, stop: Callable[[], bool]) -> Any | None:
    """The solver with its solution; None where it has none. The solver runs in a thread of its own,
    so that an interrupt reaches this thread."""
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 0
    solver.parameters.max_deterministic_time = work
    solver.parameters.catch_sigint_signal = False
    with ThreadPoolExecutor(1) as thread:
        solving = thread.submit(solver.solve, model)
        try:
            while True:
                try:
                    status = solving.result(ASK_S)
                    break
                except TimeoutError:
                    if stop():
                        solver.stop_search()
        except BaseException:
            solver.stop_search()
            raise
    return solver if status in (cp_model.OPTIMAL, cp_model.FEASIBLE) else None
