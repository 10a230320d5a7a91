"""The species table: what the stone is made of."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Material:
    """One species, as gem-cutting handbooks list it. Typical values; nature is wider."""

    name: str
    sg: float
    sg_range: tuple[float, float]
