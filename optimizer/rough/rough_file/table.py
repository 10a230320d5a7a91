"""The rough file: a TOML file that names the scan and says what is known about the piece.

The keys are described in optimizer/rough/README.md.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from optimizer.errors import InputError
from optimizer.files.border import FileName, OneLine, Table, checked
from optimizer.files.toml_file import read_toml
from optimizer.rough.flats.named_faces import PLATE
from optimizer.rough.flats.table import FaceTable
from optimizer.rough.flaws.table import FlawTable
from optimizer.rough.rough_file.keys import Direction, Positive, Weighed
from optimizer.rough.scale.known_distance import DistanceTable
from optimizer.rough.zones.colour_table import BodyColourTable
from optimizer.rough.zones.table import ZoneTable
from optimizer.wording.plain_number import plain

# The greatest relative error of a balance that serves for stones (common practice, no source).
WORST_BALANCE = 0.1
MOST_SCAN_ERROR_MM = 100.0  # more than any piece of which a stone is cut by hand leaves over


class RoughTable(Table):
    """What a rough file, or the [rough] table of an order, may hold."""

    material: Annotated[OneLine, Field(examples=["quartz"])]
    scan: FileName | None = None
    measured: dict[str, Any] | None = None  # read by optimizer.rough.measured
    name: OneLine | None = None
    parent: OneLine | None = None
    form: Literal["boule", "split boule"] | None = None
    unit: Literal["um", "mm", "cm", "m", "in"] | None = None
    mm_per_unit: Positive | None = None
    known_distance: DistanceTable | None = None
    weighed_ct: Weighed | None = None
    weighed_error_ct: Positive | None = None
    correct: Literal["scale", "sg"] | None = None
    sg_range: Annotated[list[Positive], Field(min_length=2, max_length=2)] | None = None
    scan_error_mm: Annotated[float, Field(ge=0, le=MOST_SCAN_ERROR_MM)] | None = None
    optic_axis: Direction | None = None
    growth_axis: Direction | None = None
    second_axis: Direction | None = None
    body_colour: BodyColourTable | None = None
    rests_on: Direction | None = None
    cleavage: list[Direction] = Field(default_factory=list)
    zones: list[ZoneTable] = Field(default_factory=list)
    flaws: list[FlawTable] = Field(default_factory=list)
    reference_faces: list[FaceTable] = Field(default_factory=list)

    @model_validator(mode="after")
    def _consistent(self) -> "RoughTable":
        if self.unit and self.mm_per_unit:
            raise ValueError("unit and mm_per_unit are both given: keep one")
        self._weighed_as_it_must_be()
        if self.body_colour is not None and self.zones:
            raise ValueError("body_colour and zones both say what colour the piece is: keep one")
        for kind in ("zones", "flaws", "reference_faces"):
            names = [entry.name for entry in getattr(self, kind)]
            twice = sorted({n for n in names if names.count(n) > 1})
            if twice:
                raise ValueError(f'two of {kind} are named "{twice[0]}": give each its own name')
        if any(face.name == PLATE for face in self.reference_faces):
            raise ValueError(f'a reference face is named "{PLATE}", which is what rests_on states')
        return self

    def _weighed_as_it_must_be(self) -> None:
        if self.weighed_ct is None and (self.correct or self.weighed_error_ct):
            raise ValueError("correct and weighed_error_ct need the weight: add weighed_ct")
        error, weight = self.weighed_error_ct or 0.0, self.weighed_ct or 0.0
        if error > WORST_BALANCE * weight:
            raise ValueError(
                f"weighed_error_ct = {plain(error)} is more than {100.0 * WORST_BALANCE:.0f} % of "
                f"weighed_ct = {plain(weight)}: such a weighing settles nothing; weigh on a finer "
                "balance, or take weighed_ct out"
            )
        if self.correct == "scale" and self.known_distance:
            raise ValueError('correct = "scale" and known_distance both settle the scale: keep one')
        if self.correct == "sg" and self.sg_range:
            raise ValueError('correct = "sg" and sg_range both settle the SG: keep one')
        if self.sg_range and self.sg_range[0] > self.sg_range[1]:
            raise ValueError(f"sg_range must be [least, greatest], got {self.sg_range}")


def read_rough_file(path: Path) -> RoughTable:
    """Read a rough file. Raises InputError naming file and key where something is wrong."""
    table = check_table(read_toml(path), path.name)
    if table.scan is None and table.measured is None:
        raise InputError(
            f'{path.name}: key "scan" is missing; name the scan file, scan = "...", or give '
            "caliper readings in a [measured] table"
        )
    return table


def check_table(data: Mapping[str, Any], where: str) -> RoughTable:
    """``data`` checked. Raises InputError, prefixed by ``where``, at the first thing wrong."""
    return checked(RoughTable, dict(data), where)
