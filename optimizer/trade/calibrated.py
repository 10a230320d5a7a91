"""Calibrated sizes, in which finished stones are usually traded."""

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

_TABLE = Path(__file__).with_suffix(".toml")


@dataclass(frozen=True)
class CalibratedSize:
    """A finished stone's width and length."""

    width_mm: float
    length_mm: float


@dataclass(frozen=True)
class CalibratedOutline:
    """The calibrated sizes of one outline, in ascending order of width × length."""

    name: str
    design: str  # of the library; it stands for the outline where one design is enough
    sizes: tuple[CalibratedSize, ...]


@cache
def outlines() -> tuple[CalibratedOutline, ...]:
    """Every outline of the table (common practice, no source)."""
    table = tomllib.loads(_TABLE.read_text(encoding="utf-8"))
    return tuple(_outline(**entry) for entry in table["outlines"])


def _outline(name: str, design: str, sizes_mm: list[list[float]]) -> CalibratedOutline:
    sizes = (CalibratedSize(float(width), float(length)) for width, length in sizes_mm)
    ordered = sorted(sizes, key=lambda size: (size.width_mm * size.length_mm, size.width_mm))
    return CalibratedOutline(name, design, tuple(ordered))
