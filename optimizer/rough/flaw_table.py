"""Flaws in rough files: [[flaws]], and writing them."""

import math
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field, field_validator, model_validator

from optimizer.border import OneLine, Table
from optimizer.mesh import Floats, Mesh
from optimizer.rough.keys import Length, Place, Point, must_point, toml_lines
from optimizer.rough.model import ALLOWED_OFF_TABLE, Flaw

CLEARANCE_MM = 0.2  # from a flaw where none is stated (common practice, no source)
LEAST_CLEARANCE_MM = 0.01  # no lap works finer (common practice, no source)


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

    points = field_validator("normal")(must_point)

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


def flaw_lines(flaw: Flaw) -> list[str]:
    """The flaw as a table of a rough file; its mesh is named, not written."""
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
    return ["", "[[flaws]]", *toml_lines(facts)]
