"""The sawn file, which says where the saw went and what the new face showed: TOML, checked."""

import re
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field, PlainValidator, TypeAdapter, model_validator

from optimizer.files.border import OneLine, Table, checked, shown
from optimizer.files.toml_file import read_toml
from optimizer.rough.flaws.table import FlawTable
from optimizer.rough.rough_file.keys import Number, Place, Weighed, Width

_EXAMPLE = Path(__file__).with_name("example.toml")
MOST_STRAY_MM, MOST_TILT_DEG = 20.0, 30.0  # more is another cut (our own choice)


def _by_number(kind: Any) -> PlainValidator:
    """A table with whole numbers as keys, which TOML keeps as text, and values of ``kind``."""
    values = TypeAdapter(dict[str, kind], config=ConfigDict(strict=True))

    def check(value: Any) -> dict[int, float]:
        if not isinstance(value, dict):
            raise ValueError(f"must be a table of numbers, got {shown(value)}")
        for key in value:
            if not re.fullmatch("[1-9][0-9]{0,8}", key):
                raise ValueError(
                    f"has the key {shown(key)}: use whole numbers as keys, as in 1 = 12.3"
                )
        return {int(key): number for key, number in values.validate_python(value).items()}

    return PlainValidator(check)


Lengths = Annotated[dict[int, float], _by_number(Width)]
Weights = Annotated[dict[int, float], _by_number(Weighed)]


class MovedTable(Table):
    """[moved]: how far the saw strayed from the planned cut."""

    by_mm: Annotated[float, Field(ge=0.0, le=MOST_STRAY_MM)] = 0.0
    tilt_deg: Annotated[float, Field(ge=0.0, le=MOST_TILT_DEG)] = 0.0
    into_piece: Annotated[int, Field(ge=1)]
    most_at: Literal["A", "B", "C"] | Place | None = None

    @model_validator(mode="after")
    def _one_way(self) -> "MovedTable":
        if (self.tilt_deg > 0.0) != (self.most_at is not None):
            raise ValueError(
                "must have tilt_deg and most_at together: a tilt, and where the saw strayed most"
            )
        return self


class SeenFlawTable(FlawTable):
    """[[flaws]]: a flaw that the new face showed, with the keys of a rough file's."""

    seen_on: Annotated[int, Field(ge=1)] | None = None


class SeenBoundaryTable(Table):
    """[[boundaries]]: where a colour boundary of the rough really crosses the new face."""

    zone: OneLine
    points_mm: Annotated[list[Place], Field(min_length=2)]
    angle_to_face_deg: Annotated[float, Field(gt=0.0, lt=180.0)] | None = None
    seen_on: Annotated[int, Field(ge=1)] | None = None


class SawnTable(Table):
    """The whole file."""

    cut: Annotated[int, Field(ge=1, examples=[1])]
    kerf_mm: Annotated[float, Field(ge=0.0, le=10.0)] | None = None
    moved: MovedTable | None = None
    distances_mm: Lengths = Field(default_factory=dict)
    measured_on: Annotated[int, Field(ge=1)] | None = None
    weights_ct: Weights = Field(default_factory=dict)
    weights_error_ct: Annotated[Number, Field(gt=0.0)] | None = None
    flaws: list[SeenFlawTable] = Field(default_factory=list)
    boundaries: list[SeenBoundaryTable] = Field(default_factory=list)

    @model_validator(mode="after")
    def _consistent(self) -> "SawnTable":
        if self.moved is not None and self.distances_mm:
            raise ValueError("moved and distances_mm both say where the cut lies: keep one")
        if self.measured_on is not None and not self.distances_mm:
            raise ValueError("has measured_on, which is about distances: add distances_mm")
        for kind, key in (("flaws", "name"), ("boundaries", "zone")):
            names = [getattr(entry, key) for entry in getattr(self, kind)]
            twice = sorted({n for n in names if names.count(n) > 1})
            if twice:
                raise ValueError(f"has two of {kind} for {shown(twice[0])}: keep one")
        if self.weights_error_ct is not None and not self.weights_ct:
            raise ValueError("has weights_error_ct, which is about weights: add weights_ct")
        return self


def example() -> str:
    """A sawn file with every key explained, for a first cut that ran as planned."""
    return _EXAMPLE.read_text(encoding="utf-8")


def read_sawn_file(path: Path) -> SawnTable:
    """Read and check the file. Raises InputError naming file and key."""
    return checked(SawnTable, read_toml(path), path.name)
