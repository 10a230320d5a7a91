"""What a search is asked for, and how it is watched."""

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
    ceiling: float  # σ is not wanted beyond this
    # (n, 3) points that stand in for flaws when the search begins
    obstacles: Floats = field(default_factory=lambda: np.empty((0, 3)))
    # the like, for flaws that only the part of the stone below its table must keep clear of
    off_table: Floats = field(default_factory=lambda: np.empty((0, 3)))
    least: float = 0.0  # σ below which it is no stone


@dataclass(frozen=True)
class Watch:
    """How a search is watched and stopped: it asks ``stop`` often and tells ``progress`` its
    stage, the steps done and in all, and the width in mm of the best stone so far, which a stop
    would keep (0: none); ``keeps`` once it has what a stop would keep, where that is no width."""

    stop: Callable[[], bool] = lambda: False
    progress: Callable[[str, int, int, float], None] = lambda stage, done, total, best: None
    keeps: Callable[[], None] = lambda: None


QUIET = Watch()  # never stopped, told to nobody
