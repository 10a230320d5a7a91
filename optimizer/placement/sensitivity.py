"""How much larger the stone becomes when one of its constraints is relaxed by a step.

The multipliers of the linear program give the gain for the first small part of the step. Another
constraint soon becomes active, so the gain of the whole step is found by trying: the stone climbs
again from where it lies, with all other constraints exact. The climb finds the best place nearby; a
different place in the rough may gain more.
"""

from dataclasses import dataclass, replace

import numpy as np

from optimizer.mesh import Floats, Ints
from optimizer.placement.climb import Problem, State, climb, stand
from optimizer.placement.containers import Container, Surface, in_scan
from optimizer.placement.flat_rows import FlatSurface
from optimizer.placement.near_point import split_about
from optimizer.placement.search import FINISHING

STEP_MM = 0.3  # a chip left in, or skin thinner by this: about what marking and sawing may be off
RADIUS_MM = 1.5  # of a place: what a hand grinds as one spot; our own choice
AROUND_MM = 1.0  # the surface this far beyond a step from the stone is climbed against


@dataclass(frozen=True)
class Place:
    """A place of the surface that gives way: all within RADIUS_MM of its ``centre`` that is no
    nearer to any of the ``others``. Its contacts say which direction is outwards."""

    centre: Floats  # (3,)
    others: Floats  # (k, 3)
    points: Floats  # (c, 3)
    normals: Floats  # (c, 3) unit, from the stone to the points


@dataclass(frozen=True)
class Nearby:
    """The part of the rough's surface that the stone can reach when it grows by a step or so."""

    whole: Surface
    index: Ints  # (n,) triangles of the whole
    step_mm: float
    skin_mm: float  # of the stone as it lies

    @staticmethod
    def of(problem: Problem, state: State, step_mm: float) -> "Nearby":
        """About a stone whose problem's first container is the surface."""
        whole = problem.containers[0]
        assert isinstance(whole, Surface)
        growth = problem.growing.growths[0]
        skin = growth.margin0 + growth.margin1 * state.sigma
        reached = _reached(problem, whole, state, step_mm + AROUND_MM)
        return Nearby(whole, reached, step_mm, max(skin, 0.0))

    def everything(self) -> "Nearby":
        """The whole surface, however far the stone moves."""
        return replace(self, index=np.arange(len(self.whole.triangles)))

    def loosened_at(self, place: Place) -> tuple[Container, ...]:
        """The surface with one place moved outwards by a step: first the skin there shrinks, then
        the surface itself moves."""
        triangles = self.whole.triangles[self.index]
        inside, outside = split_about(triangles, place.centre, place.others, RADIUS_MM)
        thinner = min(self.step_mm, self.skin_mm)
        apart = np.linalg.norm(inside.mean(axis=1)[:, None] - place.points[None], axis=2)
        outwards = place.normals[np.argmin(apart, axis=1)]
        inside = inside + (self.step_mm - thinner) * outwards[:, None]
        stays = (_flat(outside),) if len(outside) else ()
        return (*stays, _flat(inside, -thinner))

    def as_it_is(self) -> tuple[Container, ...]:
        """The surface as it is."""
        return (_flat(self.whole.triangles[self.index]),)

    def tells_all(self, problem: Problem, state: State) -> bool:
        """Whether the stone meets nothing of the surface that was left out."""
        return bool(np.isin(_reached(problem, self.whole, state, 0.0), self.index).all())


def _flat(triangles: Floats, extra_mm: float = 0.0) -> Surface:
    return FlatSurface.like(Surface.over(triangles, extra_mm))


def _reached(problem: Problem, surface: Surface, state: State, beyond_mm: float) -> Ints:
    """The triangles that the stone meets before it has grown by ``beyond_mm``."""
    found = []
    for growth in problem.growing.growths:
        placed = in_scan(growth, state.rotation, state.translation)
        cut = state.sigma + beyond_mm / growth.pace
        found.append(surface.contacts(placed, -np.inf, cut, len(surface.triangles)).index)
    return np.unique(np.concatenate(found))


def climbed(problem: Problem, state: State) -> State:
    """The best state near the given one, found by a climb."""
    start = stand(problem, state.rotation, state.translation, -np.inf)
    scale = max(abs(state.sigma), 1e-3 * problem.mm_per_radian)
    return climb(
        problem,
        start,
        radius=FINISHING.radius * problem.mm_per_radian,
        tolerance=FINISHING.tolerance * scale,
        steps=FINISHING.steps,
    )
