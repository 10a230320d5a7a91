"""How long each stage takes."""

from dataclasses import dataclass, field
from time import perf_counter


@dataclass
class Clock:
    """Seconds of each stage."""

    started: float = field(default_factory=perf_counter)
    laps: dict[str, float] = field(default_factory=dict)

    def lap(self, stage: str) -> None:
        """Note that ``stage`` ends now."""
        self.laps[stage] = perf_counter() - self.started - sum(self.laps.values())

    def seconds(self) -> dict[str, float]:
        """The seconds of all stages and their total."""
        return {"total": perf_counter() - self.started, **self.laps}
