"""What no stone can weigh."""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Bound:
    """No stone of the covered designs that meets the demands under ``uses`` weighs more."""

    carat: float
    covers: Mapping[str, object]  # {"designs": [...], "parameters": {...}}
    uses: tuple[str, ...]
    ignores: tuple[str, ...]
