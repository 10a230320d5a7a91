"""What the forms of a hand-measured piece have in common: readings, the table, and the solid."""

import math
from abc import abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, ClassVar

from pydantic import Field, PlainValidator

from optimizer.files.border import Table, shown
from optimizer.mesh import Floats, Mesh, Plane
from optimizer.rough.model import ReferenceFace
from optimizer.trade.materials import Material
from optimizer.wording.plain_number import plain

LEAST_MM, MOST_MM = 0.01, 1000.0  # the resolution of a caliper; larger than anything cut by hand
# A good caliper on a sound skin: the tool reads finer, the skin does not (common practice, no
# source).
DEFAULT_READING_ERROR_MM = 0.1
SAGITTA_SHARE = 0.1  # of the reading's error: how far a polygon may cut inside a round section
_LEAST_SAGITTA_MM = 0.001  # finer only makes the mesh large
_LEAST_SAID_MM = 0.005


@dataclass(frozen=True)
class Reading:
    """One dimension, read once or in several places."""

    values: tuple[float, ...]

    @property
    def mm(self) -> float:
        """The mean of the readings."""
        return math.fsum(self.values) / len(self.values)

    @property
    def spread_mm(self) -> float:
        """The greatest difference of a reading from the mean."""
        return max(abs(value - self.mm) for value in self.values)


def _reading(value: Any) -> Reading:
    values = value if isinstance(value, list) else [value]
    numbers = [v for v in values if isinstance(v, int | float) and not isinstance(v, bool)]
    if not values or len(numbers) < len(values):
        raise ValueError(f"must be a number or a list of numbers, got {shown(value)}")
    for number in numbers:
        if not LEAST_MM <= number <= MOST_MM:  # refuses nan, too
            limits = f"from {plain(LEAST_MM)} to {plain(MOST_MM)} mm"
            raise ValueError(f"must be {limits}, got {shown(number)}")
    return Reading(tuple(float(number) for number in numbers))


Dimension = Annotated[Reading, PlainValidator(_reading)]
Place = Annotated[float, Field(ge=-MOST_MM, le=MOST_MM)]


@dataclass(frozen=True)
class PieceFacts:
    """What a form needs to know of the piece besides its readings."""

    material: Material
    weighed_ct: float | None
    folder: Path  # of the rough file


@dataclass(frozen=True)
class FormSolid:
    """A form's closed mesh in a frame of its own, and what is known about it from the form."""

    mesh: Mesh
    frame: str  # where the origin and the axes lie, as a sentence without its full stop
    faces: tuple[ReferenceFace, ...] = ()
    unsure_mm: float = 0.0  # how far inside the mesh the skin may be, beyond one reading's error
    notes: tuple[str, ...] = ()  # how it was built
    doubts: tuple[str, ...] = ()
    optic_axis: Floats | None = None  # (3,) unit, where form and species determine it
    growth_axis: Floats | None = None  # likewise
    not_real: tuple[Plane, ...] = ()  # planes of the mesh that the piece does not have


class FormTable(Table):
    """The [measured] table of a rough file, as one form needs it."""

    # What FormSolid.unsure_mm comes from, and the readings that are no key of their own: as words.
    unsure_by: ClassVar[str]
    other_readings: ClassVar[str]

    form: str
    reading_error_mm: Annotated[float, Field(gt=0, le=5, allow_inf_nan=False)] | None = None

    @property
    def error_mm(self) -> float:
        """The error of one reading, stated or by default."""
        return self.reading_error_mm or DEFAULT_READING_ERROR_MM

    @property
    def sagitta_mm(self) -> float:
        """How far the mesh may cut inside a round surface."""
        return max(SAGITTA_SHARE * self.error_mm, _LEAST_SAGITTA_MM)

    def dimension_key(self, mm: float) -> str:
        """The key of the reading that is the piece's least extent, ``mm``."""
        readings = {k: r.mm for k, r in self if isinstance(r, Reading) and k != "shape_error_mm"}
        least = min(readings, key=readings.__getitem__, default=None)
        return least if least and readings[least] <= 1.01 * mm else self.other_readings

    @abstractmethod
    def solid(self, known: PieceFacts) -> FormSolid:
        """The form as a closed mesh. Raises ValueError where the readings fit no solid."""


def widest_spread(readings: Sequence[Reading]) -> float:
    """The largest spread among several dimensions, mm."""
    return max(reading.spread_mm for reading in readings)


def bend_words(bulge_mm: float, hollow_mm: float, answer: str) -> str:
    """How far sides run off straight lines, and what is done about hollow ones (``answer``)."""
    said = []
    if bulge_mm > _LEAST_SAID_MM:
        said.append(f"bulge by up to {bulge_mm:.2f} mm, which is left out")
    if hollow_mm > _LEAST_SAID_MM:
        said.append(f"are hollow by up to {hollow_mm:.2f} mm, {answer}")
    return ", and ".join(said) or "are straight"
