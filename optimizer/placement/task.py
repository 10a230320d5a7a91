"""What a search is to find, and how a caller watches and stops it."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.containers import Container
from optimizer.placement.demands import Demand
from optimizer.placement.growing import Growing


@dataclass(frozen=True)
class Task:
    """What to search for, in the ground's own frame."""

    growing: Growing
    walls: tuple[Container, ...]
    demands: tuple[Demand, ...]
    rotations: Floats  # (n, 3, 3) starts
    centres: Floats  # (c, 3) starts, inside the rough
    ceiling: float  # the greatest σ wanted
    # (n, 3) points that stand in for flaws when the search begins
    obstacles: Floats = field(default_factory=lambda: np.empty((0, 3)))
    # (n, 3) points of flaws that only the part of the stone below its table must keep clear of
    off_table: Floats = field(default_factory=lambda: np.empty((0, 3)))
    least: float = 0.0  # the least σ wanted


@dataclass(frozen=True)
class Watch:
    """How a caller watches and stops a search.

    stop      the search asks it often, and ends early once it returns true
    progress  receives the stage, the steps done, the steps in all, and the width in mm of the best
              stone so far, which an early end would keep (0: none)
    keeps     is called once an early end would keep something that has no width
    """

    stop: Callable[[], bool] = lambda: False
    progress: Callable[[str, int, int, float], None] = lambda stage, done, total, best: None
    keeps: Callable[[], None] = lambda: None


QUIET = Watch()  # never stops a search, and shows no progress
