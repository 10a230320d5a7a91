"""How a plan is worked out."""

from dataclasses import dataclass

from optimizer.placement.search import Watch
from optimizer.planning.clock import Clock


@dataclass(frozen=True)
class Run:
    """How a plan is worked out: its seed and effort, and how far the bound is tightened."""

    seed: int
    effort: str
    prove: bool
    gap: float  # percent of the weight, where it is to be proved
    watch: Watch
    clock: Clock
