"""What a plan of several stones is worth: carats, or money where a price is known."""

from dataclasses import dataclass

from optimizer.design.model import Design


@dataclass(frozen=True)
class Worth:
    """What stones are worth. Without prices a stone is worth its carats and a cut costs nothing."""

    def of(self, design: Design, carat: float) -> float:
        """Of one stone."""
        return carat

    @property
    def cut(self) -> float:
        """What one saw cut costs."""
        return 0.0
