"""Lay a design with free parameters in the rough, and choose the parameters with the place.

First the usual parameters, as any other order; then climbs in pose and parameters together from
the best distinct places; then the parameters are rounded to what can be set, the places solved
anew with them, and the heaviest kept.
"""

from dataclasses import dataclass, replace

import numpy as np

from optimizer.design.family import Family
from optimizer.errors import InputError
from optimizer.mesh import Floats
from optimizer.placement.climb import MET_MM, Problem, State, climb, stand
from optimizer.placement.flat_rows import FlatSurface
from optimizer.placement.ground import Ground
from optimizer.placement.growing import growing_by_width
from optimizer.placement.model import Placement
from optimizer.placement.near import clearest, starts_about, state_of
from optimizer.placement.place import Want, as_placement, directed_task, roomiest
from optimizer.placement.search import (
    EFFORTS,
    FINISHING,
    SETTLING,
    Climbing,
    Task,
    Watch,
    planes_for,
    search,
)
from optimizer.placement.shaping import Freedom, Shaped, ShapeHill, shape_climb
from optimizer.running.workers import workers

JOINT = Climbing(0.05, 1e-5, 20)  # rounding follows: nearer to the best would be lost on it
WIDE = 0.05  # of the width that corners move over a range: its ends are looked at by themselves
TRIED = 3  # places rounded, the best first
ROUNDINGS = 8  # at most, of the best place; of the others the nearest alone
FINISHED = 3  # rounded stones that are solved to the end


@dataclass(frozen=True)
class Choice:
    """The stone found, the values chosen, and the volume of the stone of the usual values."""

    placement: Placement
    values: Floats  # (q,) of the free parameters
    usual_mm3: float | None  # None: none was found with the usual values


def place_shaped(
    ground: Ground, want: Want, freedom: Freedom, *, effort: str, seed: int, watch: Watch
) -> Choice | None:
    """The heaviest placement found over the free parameters, exact on the whole surface.

    Where a size ordered is reached, the stone lies where its clearance is greatest, as in
    ``place``. None where none was found.
    """
    starts = _searched(ground, want, freedom, effort, seed, watch)
    return _best_from(starts, ground, want, freedom, effort, seed, watch)


def place_freed(
    ground: Ground, want: Want, freedom: Freedom, values: Floats, there: Placement,
    seed: int, watch: Watch,
) -> Choice | None:  # fmt: skip
    """As ``place_shaped``, where a stone is known already: it lies ``there``, its free parameters
    have ``values`` (q,), and its usual values are no longer searched. Of the ends of wide ranges
    only the best by a glance is."""
    low, _ = freedom.window(there.body)
    starts = [Shaped.of(values, there.body, state_of(ground, there), low)]
    ends = [
        place
        for station in _stations(freedom.family)[1:]
        for place in _at_station(ground, want, freedom, station, "glance", seed, watch)
    ]
    if ends:
        best = max(ends, key=lambda s: s.merit).values
        starts += _at_station(ground, want, freedom, best, "quick", seed, watch)
    starts.sort(key=lambda s: -s.merit)
    return _best_from(starts, ground, want, freedom, "quick", seed, watch)


def _best_from(
    starts: list[Shaped], ground: Ground, want: Want, freedom: Freedom,
    effort: str, seed: int, watch: Watch,
) -> Choice | None:  # fmt: skip
    """The heaviest stone to which climbs in pose and parameters from the starts lead."""
    budget, family = EFFORTS[effort], freedom.family
    usual = _met([s for s in starts if np.array_equal(s.values, family.usual)])
    if not starts or family.cell(family.usual) is None:
        chosen = usual
    else:
        task = directed_task(ground, want, growing_by_width(want.body, want.skin_mm, 0.0),
                             np.inf, budget, seed)  # fmt: skip
        hill = _hill(ground, want, freedom, task, starts[0])
        climbed = _climbed(hill, _starts(starts, budget.final), watch)
        chosen = _met(_rounded(hill, climbed, watch)) or usual
    if chosen is None:
        return None
    placement = _laid(ground, want, freedom, chosen, effort, seed, watch)
    return Choice(placement, chosen.values, None if usual is None else usual.cube_mm**3)


def place_shaped_near(
    ground: Ground, want: Want, freedom: Freedom, values: Floats, there: Placement, watch: Watch
) -> Choice | None:
    """The heaviest placement found by climbs in pose and parameters from about ``there``, where
    the free parameters have ``values`` (q,); None where none meets what is asked."""
    body, state = there.body, state_of(ground, there)
    mm_per_radian = float(np.linalg.norm(body.vertices_at(state.sigma), axis=1).max())
    low, _ = freedom.window(body)
    starts = [Shaped.of(values, body, one, low) for one in starts_about(state, mm_per_radian)]
    growing = growing_by_width(body, want.skin_mm, 0.0)
    task = directed_task(ground, want, growing, np.inf, EFFORTS["quick"], 0)
    hill = _hill(ground, want, freedom, task, starts[0])
    chosen = _met(_rounded(hill, _climbed(hill, starts, watch), watch))
    if chosen is None:
        return None
    own, state = replace(want, body=chosen.body), chosen.state
    if state.sigma >= freedom.window(chosen.body)[1]:
        state = clearest(ground, own, state, watch)
    return Choice(as_placement(ground, own, state), chosen.values, None)


def _searched(
    ground: Ground, want: Want, freedom: Freedom, effort: str, seed: int, watch: Watch
) -> list[Shaped]:
    """The best distinct places at the usual parameters, by the whole effort, and at the ends of
    wide ranges, by a quick look each; the best first."""
    found: list[Shaped] = []
    for values in _stations(freedom.family):
        how = effort if np.array_equal(values, freedom.family.usual) else "quick"
        found += _at_station(ground, want, freedom, values, how, seed, watch)
        if watch.stop():
            break
    return sorted(found, key=lambda s: -s.merit)


def _at_station(
    ground: Ground, want: Want, freedom: Freedom, values: Floats,
    effort: str, seed: int, watch: Watch,
) -> list[Shaped]:  # fmt: skip
    """The best distinct places of the body whose free parameters have ``values`` (q,); none where
    it loses a facet."""
    try:
        body = freedom.family.exact(values)
    except InputError:
        return []
    low, high = freedom.window(body)
    own = replace(want, body=body, width_mm=(low, high))
    growing = growing_by_width(body, want.skin_mm, 0.0)
    task = directed_task(ground, own, growing, high, EFFORTS[effort], seed)
    found = search(ground, task, EFFORTS[effort], watch)
    return [Shaped.of(values, body, state, low) for state in found]


def _stations(family: Family) -> list[Floats]:
    """The usual values, and with each parameter of a wide range at either end."""
    stations = [family.usual]
    if family.cell(family.usual) is None:
        return stations
    for j in np.flatnonzero(family.travel * (family.high - family.low) > WIDE):
        for end in (family.low[j], family.high[j]):
            values = family.usual.copy()
            values[j] = end
            stations.append(values)
    return stations


def _starts(found: list[Shaped], count: int) -> list[Shaped]:
    """The best ``count`` of each station: a climb carries some of them farther than others."""
    taken: dict[tuple[float, ...], int] = {}
    kept = []
    for place in found:
        key = tuple(place.values)
        taken[key] = taken.get(key, 0) + 1
        if taken[key] <= count:
            kept.append(place)
    return kept


def _met(found: list[Shaped]) -> Shaped | None:
    """The heaviest that meets every demand."""
    met = [s for s in found if s.unmet <= MET_MM and s.state.sigma > 0.0]
    return max(met, key=lambda s: s.cube_mm, default=None)


def _hill(ground: Ground, want: Want, freedom: Freedom, task: Task, best: Shaped) -> ShapeHill:
    width = best.state.sigma
    mm_per_radian = float(np.linalg.norm(best.body.vertices_at(width), axis=1).max())
    rough = planes_for(ground, task) or FlatSurface.like(ground.surface)
    containers = (rough, *task.walls)
    reach = freedom.family.travel * width
    return ShapeHill(freedom, want.skin_mm, containers, task.demands, mm_per_radian, reach)


def _climbed(hill: ShapeHill, starts: list[Shaped], watch: Watch) -> list[Shaped]:
    """Climbs from the starts, best first; once stopped, none further."""

    def one(number: int) -> Shaped | None:
        if watch.stop():
            return None
        start = starts[number]
        return shape_climb(
            hill, start, radius=JOINT.radius * hill.mm_per_radian,
            tolerance=JOINT.tolerance * start.cube_mm, steps=JOINT.steps,
        )  # fmt: skip

    done: list[Shaped] = []
    with workers() as pool:
        for result in pool.map(one, range(len(starts))):
            if result is None:
                break
            done.append(result)
            best = _met(done)
            width = 0.0 if best is None else best.state.sigma
            watch.progress("choosing angles", len(done), len(starts), width)
    return sorted(done, key=lambda s: -s.merit)


def _rounded(hill: ShapeHill, climbed: list[Shaped], watch: Watch) -> list[Shaped]:
    """The best places with parameters that can be set, solved anew."""
    family = hill.freedom.family
    settings: dict[tuple[float, ...], Shaped] = {}
    settled: list[Shaped] = []
    for rank, place in enumerate(climbed[:TRIED]):
        for values in family.rounded(place.values, ROUNDINGS if rank == 0 else 1):
            settings.setdefault(tuple(values), place)
    for setting, place in settings.items():
        if watch.stop() and settled:
            break
        settled += _settled(hill, np.array(setting), place, SETTLING)
    settled.sort(key=lambda s: -s.merit)
    finished = [s for one in settled[:FINISHED] for s in _settled(hill, one.values, one, FINISHING)]
    return [*finished, *settled[FINISHED:]]


def _settled(hill: ShapeHill, values: Floats, near: Shaped, how: Climbing) -> list[Shaped]:
    """The best pose near another for a body cut anew; nothing where it loses a facet."""
    try:
        body = hill.freedom.family.exact(values)
    except InputError:
        return []
    low, high = hill.freedom.window(body)
    growing = growing_by_width(body, hill.skin_mm, 0.0)
    problem = Problem(growing, hill.containers, hill.demands, hill.mm_per_radian, high)
    start = stand(problem, near.state.rotation, near.state.translation, -np.inf)
    state = climb(
        problem, start, radius=how.radius * hill.mm_per_radian,
        tolerance=how.tolerance * max(abs(start.sigma), 1e-3 * hill.mm_per_radian), steps=how.steps,
    )  # fmt: skip
    return [Shaped.of(values, body, state, low)]


def _laid(
    ground: Ground, want: Want, freedom: Freedom, chosen: Shaped,
    effort: str, seed: int, watch: Watch,
) -> Placement:  # fmt: skip
    """In the scan frame; at a size ordered, where the clearance is greatest."""
    high = freedom.window(chosen.body)[1]
    fixed = replace(want, body=chosen.body, width_mm=(high, high))
    state: State | None = None
    if chosen.state.sigma >= high:
        state = roomiest(ground, fixed, EFFORTS[effort], seed, watch)
    return as_placement(ground, fixed, state or chosen.state)
