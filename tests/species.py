"""The species of the table, and what the tests reckon from their columns."""

import math
import tomllib
from pathlib import Path

from optimizer.trade import materials
from optimizer.trade.materials import Material


def material_names() -> tuple[str, ...]:
    """Every species of the table, in alphabetical order."""
    text = Path(materials.__file__).with_suffix(".toml").read_text(encoding="utf-8")
    return tuple(sorted(tomllib.loads(text)["species"]))


def critical_angle_deg(material: Material) -> float:
    """asin(1/n), Snell's law, for the lowest index: the species' largest critical angle."""
    assert material.ri is not None
    return math.degrees(math.asin(1.0 / material.ri[0]))
