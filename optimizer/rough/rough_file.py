"""The rough file: a TOML file that names the scan and says what is known about the piece.

The keys are described in README.md beside this file.
"""

import json
import math
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from optimizer.errors import InputError, nearest
from optimizer.mesh import Floats, Plane
from optimizer.rough.model import Colour, ReferenceFace, Zone

Number = Annotated[float, Field(allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Point = Annotated[list[Number], Field(min_length=3, max_length=3)]
Name = Annotated[str, Field(pattern=r"^[^\x00-\x1f\x7f-\x9f\u2028\u2029]+$")]  # one printable line
_NEUTRAL = ("#9a9a9a", "#e4e4e4")  # towards, away: greys that claim no colour


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


def _must_point(vector: list[float] | None) -> list[float] | None:
    # Squares of the least numbers vanish: such a direction cannot be made one long.
    if vector is not None and not 1e-100 < math.hypot(*vector) < 1e100:
        raise ValueError("is no direction: its length must not be zero")
    return vector


class ColourTable(_Table):
    colour: Name
    srgb: Annotated[str, Field(pattern=r"^#[0-9a-fA-F]{6}$")] | None = None


class FaceTable(_Table):
    name: Name
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


class RoughTable(_Table):
    """What a rough file, or the [rough] table of an order, may hold."""

    material: Name
    scan: Name | None = None
    parent: Name | None = None
    unit: Literal["um", "mm", "cm", "m", "in"] | None = None
    mm_per_unit: Positive | None = None
    weighed_ct: Positive | None = None
    scan_error_mm: Annotated[float, Field(ge=0, allow_inf_nan=False)] | None = None
    optic_axis: Point | None = None
    zones: list[ZoneTable] = []
    reference_faces: list[FaceTable] = []

    points = field_validator("optic_axis")(_must_point)

    @model_validator(mode="after")
    def _consistent(self) -> "RoughTable":
        if self.unit and self.mm_per_unit:
            raise ValueError("unit and mm_per_unit are both given: keep one")
        for kind, entries in (("zones", self.zones), ("reference_faces", self.reference_faces)):
            names = [entry.name for entry in entries]
            twice = sorted({n for n in names if names.count(n) > 1})
            if twice:
                raise ValueError(f'two of {kind} are named "{twice[0]}": give each its own name')
        return self


def read_rough_file(path: Path) -> RoughTable:
    """Read a rough file. Raises InputError naming file and key where something is wrong."""
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise InputError(f"{path}: there is no such file") from None
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror})") from None
    except UnicodeDecodeError:
        raise InputError(f"{path.name}: is no text in UTF-8, so no rough file") from None
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise InputError(f"{path.name}: is no valid TOML: {error}") from None
    table = check_table(data, path.name)
    if table.scan is None:
        raise InputError(f'{path.name}: key "scan" is missing; name the scan file: scan = "..."')
    return table


def check_table(data: Mapping[str, Any], where: str) -> RoughTable:
    """``data`` checked. Raises InputError, prefixed by ``where``, at the first thing wrong."""
    try:
        return RoughTable.model_validate(dict(data))
    except ValidationError as error:
        raise InputError(f"{where}: {_sentence(error.errors()[0])}") from None


def _sentence(problem: Any) -> str:
    """One plain line from one of pydantic's errors."""
    place = ".".join(str(part + 1) if isinstance(part, int) else part for part in problem["loc"])
    match problem["type"]:
        case "extra_forbidden":
            known = _keys_at(problem["loc"])
            return f'key "{place}" is not known; {nearest(str(problem["loc"][-1]), known)}'
        case "missing" if place == "material":
            return 'key "material" is missing; the weight needs it: material = "quartz", for one'
        case "missing":
            return f'key "{place}" is missing'
        case "value_error" if not place:
            return str(problem["ctx"]["error"])
        case "value_error":
            return f'key "{place}" {problem["ctx"]["error"]}'
        case "string_pattern_mismatch" if problem["loc"][-1] != "srgb":
            return (
                f'key "{place}" must be one line of printable text, got {_shown(problem["input"])}'
            )
        case "string_pattern_mismatch":
            return f'key "{place}" must be a colour like "#c08040", got {_shown(problem["input"])}'
    return f'key "{place}": {problem["msg"].lower()}, got {_shown(problem["input"])}'


def _shown(value: Any) -> str:
    text = json.dumps(value, default=str)
    return text if len(text) <= 60 else text[:57] + "..."


def _keys_at(place: Sequence[Any]) -> list[str]:
    """The keys known in the table that ``place`` lies in."""
    tables: dict[Any, type[_Table]] = {
        "zones": ZoneTable, "reference_faces": FaceTable, "towards": ColourTable,
        "away": ColourTable,
    }  # fmt: skip
    home = next((tables[part] for part in reversed(place[:-1]) if part in tables), RoughTable)
    return list(home.model_fields)


def write_rough_file(
    path: Path,
    *,
    scan: str,
    material: str,
    scan_error_mm: float | None = None,
    weighed_ct: float | None = None,
    zones: Sequence[Zone] = (),
    reference_faces: Sequence[ReferenceFace] = (),
    optic_axis: Floats | None = None,
    parent: str | None = None,
) -> None:
    """Write a rough file that ``load_rough`` reads back, for a scan in millimetres.

    ``scan`` is the scan's file name as seen from the rough file's folder; ``parent`` notes the
    piece that this one was cut from. Zones, faces and axis are in the scan frame.
    """
    facts = {
        "scan": scan, "unit": "mm", "material": material, "parent": parent,
        "scan_error_mm": scan_error_mm, "weighed_ct": weighed_ct, "optic_axis": optic_axis,
    }  # fmt: skip
    lines = ["# A piece of rough: lengths in millimetres, in the frame of the scan."]
    lines += [f"{key} = {_toml(value)}" for key, value in facts.items() if value is not None]
    for zone in zones:
        lines += ["", "[[zones]]", *_plane_lines(zone.name, zone.plane)]
        lines += [f"towards = {_colour(zone.towards)}", f"away = {_colour(zone.away)}"]
    for face in reference_faces:
        lines += ["", "[[reference_faces]]", *_plane_lines(face.name, face.plane)]
    Path(path).write_text("\n".join(lines) + "\n", encoding="utf-8")


def _plane_lines(name: str, plane: Plane) -> list[str]:
    point = plane.normal * plane.offset
    return [
        f"name = {_toml(name)}", f"point_mm = {_toml(point)}", f"normal = {_toml(plane.normal)}",
    ]  # fmt: skip


def _colour(colour: Colour) -> str:
    return f"{{ colour = {_toml(colour.name)}, srgb = {_toml(colour.srgb)} }}"


def _toml(value: Any) -> str:
    """A string, number or vector as TOML; doubles keep every digit."""
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)  # names are printable, so JSON's escapes do
    if np.ndim(value):
        return "[" + ", ".join(repr(float(x)) for x in value) + "]"
    return repr(float(value))
