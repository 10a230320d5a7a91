"""The rough file: a TOML file that names the scan and says what is known about the piece.

The keys are described in README.md beside this file.
"""

import json
import math
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import AfterValidator, Field, field_validator, model_validator

from optimizer.border import OneLine, Table, checked, read_toml, shown
from optimizer.errors import InputError
from optimizer.mesh import Floats, Mesh, Plane
from optimizer.rough.model import ALLOWED_OFF_TABLE, Colour, Flaw, ReferenceFace, Zone

CLEARANCE_MM = 0.2  # from a flaw where none is stated (common practice, no source)
LEAST_CLEARANCE_MM = 0.01  # no lap works finer (common practice, no source)
FAR_MM = 1e6  # no flaw lies farther from the scan's origin, or is larger
_NEUTRAL = ("#9a9a9a", "#e4e4e4")  # towards, away: greys that claim no colour


def _hex_colour(text: str) -> str:
    if not re.fullmatch("#[0-9a-fA-F]{6}", text):
        raise ValueError(f'must be a colour like "#c08040", got {shown(text)}')
    return text


Number = Annotated[float, Field(allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Point = Annotated[list[Number], Field(min_length=3, max_length=3)]
Place = Annotated[
    list[Annotated[float, Field(ge=-FAR_MM, le=FAR_MM)]], Field(min_length=3, max_length=3)
]
Length = Annotated[float, Field(ge=0, le=FAR_MM)]
Srgb = Annotated[str, AfterValidator(_hex_colour)]


def _must_point(vector: list[float] | None) -> list[float] | None:
    # Squares of the least numbers vanish: such a direction cannot be made one long.
    if vector is not None and not 1e-100 < math.hypot(*vector) < 1e100:
        raise ValueError("is no direction: its length must not be zero")
    return vector


Direction = Annotated[Point, AfterValidator(_must_point)]


class ColourTable(Table):
    colour: OneLine
    srgb: Srgb | None = None


class FaceTable(Table):
    name: OneLine
    point_mm: Point
    normal: Point

    points = field_validator("normal")(_must_point)

    @property
    def plane(self) -> Plane:
        return Plane.through(np.array(self.point_mm, float), np.array(self.normal, float))

    def as_face(self) -> ReferenceFace:
        return ReferenceFace(self.name, self.plane)


class ZoneTable(FaceTable):
    towards: ColourTable
    away: ColourTable

    def as_zone(self) -> Zone:
        sides = [
            Colour(side.colour, side.srgb or grey)
            for side, grey in zip((self.towards, self.away), _NEUTRAL, strict=True)
        ]
        return Zone(self.name, self.plane, *sides)


class FlawTable(Table):
    name: OneLine
    point_mm: Place | None = None
    from_mm: Place | None = None
    to_mm: Place | None = None
    mesh: OneLine | None = None
    normal: Point | None = None
    across_mm: Annotated[Length, Field(gt=0)] | None = None
    radius_mm: Length = 0.0
    clearance_mm: Annotated[Length, Field(ge=LEAST_CLEARANCE_MM)] = CLEARANCE_MM
    allowed: Literal["nowhere in the stone", "off the table"] = "nowhere in the stone"

    points = field_validator("normal")(_must_point)

    @model_validator(mode="after")
    def _one_kind(self) -> "FlawTable":
        line = (self.from_mm is not None, self.to_mm is not None)
        kinds = (line[0], self.point_mm is not None, self.mesh is not None)
        if line[0] != line[1] or sum(kinds) != 1:
            raise ValueError("must have either point_mm, or from_mm and to_mm, or a mesh")
        if self.mesh is not None and self.radius_mm > 0.0:
            raise ValueError("has a mesh and a radius_mm: add what is lacking to clearance_mm")
        if line[0] and self.from_mm == self.to_mm:
            raise ValueError("has from_mm and to_mm at one place: give point_mm instead")
        if self.normal is not None and self.point_mm is None:
            raise ValueError("has a normal, which only a crack at point_mm has: drop it")
        if self.normal is None and self.across_mm is not None:
            raise ValueError("has across_mm, which is for a crack: give its normal too")
        return self

    def as_flaw(self, mesh: Mesh | None, inner: Floats | None) -> Flaw:
        """``mesh`` is what the key names, in mm; ``inner`` (3,) a point within it."""
        ends = [self.point_mm] if self.point_mm is not None else [self.from_mm, self.to_mm]
        if inner is not None:
            ends = [inner.tolist()]
        normal, across = None, 0.0
        if self.normal is not None:
            normal = np.array(self.normal, float)
            normal /= np.linalg.norm(normal)
            across = self.across_mm or math.inf
        return Flaw(
            self.name, np.array(ends, float), normal, across, self.radius_mm, self.clearance_mm,
            mesh, self.mesh, self.allowed == ALLOWED_OFF_TABLE,
        )  # fmt: skip


class RoughTable(Table):
    """What a rough file, or the [rough] table of an order, may hold."""

    material: Annotated[OneLine, Field(examples=["quartz"])]
    scan: OneLine | None = None
    parent: OneLine | None = None
    unit: Literal["um", "mm", "cm", "m", "in"] | None = None
    mm_per_unit: Positive | None = None
    weighed_ct: Positive | None = None
    scan_error_mm: Annotated[float, Field(ge=0, allow_inf_nan=False)] | None = None
    optic_axis: Point | None = None
    growth_axis: Point | None = None
    cleavage: list[Direction] = Field(default_factory=list)
    zones: list[ZoneTable] = Field(default_factory=list)
    flaws: list[FlawTable] = Field(default_factory=list)
    reference_faces: list[FaceTable] = Field(default_factory=list)

    points = field_validator("optic_axis", "growth_axis")(_must_point)

    @model_validator(mode="after")
    def _consistent(self) -> "RoughTable":
        if self.unit and self.mm_per_unit:
            raise ValueError("unit and mm_per_unit are both given: keep one")
        for kind in ("zones", "flaws", "reference_faces"):
            names = [entry.name for entry in getattr(self, kind)]
            twice = sorted({n for n in names if names.count(n) > 1})
            if twice:
                raise ValueError(f'two of {kind} are named "{twice[0]}": give each its own name')
        return self


def read_rough_file(path: Path) -> RoughTable:
    """Read a rough file. Raises InputError naming file and key where something is wrong."""
    table = check_table(read_toml(path), path.name)
    if table.scan is None:
        raise InputError(f'{path.name}: key "scan" is missing; name the scan file: scan = "..."')
    return table


def check_table(data: Mapping[str, Any], where: str) -> RoughTable:
    """``data`` checked. Raises InputError, prefixed by ``where``, at the first thing wrong."""
    return checked(RoughTable, dict(data), where)


def write_rough_file(
    path: Path,
    *,
    scan: str,
    material: str,
    scan_error_mm: float | None = None,
    weighed_ct: float | None = None,
    zones: Sequence[Zone] = (),
    flaws: Sequence[Flaw] = (),
    reference_faces: Sequence[ReferenceFace] = (),
    optic_axis: Floats | None = None,
    growth_axis: Floats | None = None,
    cleavage: Sequence[Floats] = (),
    parent: str | None = None,
) -> None:
    """Write a rough file that ``load_rough`` reads back, for a scan in millimetres.

    ``scan`` is the scan's file name as seen from the rough file's folder; ``parent`` notes the
    piece that this one was cut from. Zones, flaws, faces, axes and cleavage are in the scan frame.
    Meshes of flaws are named, not written.
    """
    facts = {
        "scan": scan, "unit": "mm", "material": material, "parent": parent,
        "scan_error_mm": scan_error_mm, "weighed_ct": weighed_ct, "optic_axis": optic_axis,
        "growth_axis": growth_axis, "cleavage": np.array(cleavage) if len(cleavage) else None,
    }  # fmt: skip
    lines = ["# A piece of rough: lengths in millimetres, in the frame of the scan."]
    lines += [f"{key} = {_toml(value)}" for key, value in facts.items() if value is not None]
    for zone in zones:
        lines += ["", "[[zones]]", *_plane_lines(zone.name, zone.plane)]
        lines += [f"towards = {_colour(zone.towards)}", f"away = {_colour(zone.away)}"]
    for flaw in flaws:
        lines += ["", "[[flaws]]", *_flaw_lines(flaw)]
    for face in reference_faces:
        lines += ["", "[[reference_faces]]", *_plane_lines(face.name, face.plane)]
    Path(path).write_text("\n".join(lines) + "\n", encoding="utf-8")


def _plane_lines(name: str, plane: Plane) -> list[str]:
    point = plane.normal * plane.offset
    return [
        f"name = {_toml(name)}", f"point_mm = {_toml(point)}", f"normal = {_toml(plane.normal)}",
    ]  # fmt: skip


def _flaw_lines(flaw: Flaw) -> list[str]:
    facts: dict[str, Any] = {"name": flaw.name}
    if flaw.file is not None:
        facts["mesh"] = flaw.file
    else:
        keys = ("from_mm", "to_mm") if len(flaw.ends) > 1 else ("point_mm",)
        facts |= dict(zip(keys, flaw.ends, strict=True))
    if flaw.normal is not None:
        facts["normal"] = flaw.normal
        if math.isfinite(flaw.across_mm):
            facts["across_mm"] = flaw.across_mm
    if flaw.mesh is None:
        facts["radius_mm"] = flaw.radius_mm
    facts["clearance_mm"] = flaw.clearance_mm
    if flaw.off_table:
        facts["allowed"] = ALLOWED_OFF_TABLE
    return [f"{key} = {_toml(value)}" for key, value in facts.items()]


def _colour(colour: Colour) -> str:
    return f"{{ colour = {_toml(colour.name)}, srgb = {_toml(colour.srgb)} }}"


def _toml(value: Any) -> str:
    """A string, number or vector as TOML; doubles keep every digit."""
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)  # names are printable, so JSON's escapes do
    if np.ndim(value):
        return "[" + ", ".join(_toml(x) for x in value) + "]"
    return repr(float(value))
