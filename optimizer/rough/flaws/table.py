"""Flaws in rough files: [[flaws]], and writing them."""

import math
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field, model_validator

from optimizer.files.border import FileName, OneLine, Table
from optimizer.mesh import Floats, Mesh
from optimizer.rough.flats.named_faces import NamedFaces
from optimizer.rough.flaws.window import behind_window
from optimizer.rough.model import ALLOWED_OFF_TABLE, Flaw
from optimizer.rough.rough_file.keys import Direction, Length, Place, Width
from optimizer.trade.materials import Material
from optimizer.wording.plain_number import plain

CLEARANCE_MM = 0.2  # from a flaw where none is stated (common practice, no source)
ON_WINDOW_MM = 1.0  # how far off its window a place may be read (common practice, no source)
LEAST_CLEARANCE_MM = 0.01  # nobody works finer on a lap (common practice, no source)


class FlawTable(Table):
    """[[flaws]]: an inclusion or a crack, by one of the ways to say where its core lies."""

    name: OneLine
    point_mm: Place | None = None
    from_mm: Place | None = None
    to_mm: Place | None = None
    mesh: FileName | None = None
    normal: Direction | None = None
    across_mm: Width | None = None
    window: OneLine | None = None
    apparent_depth_mm: Width | None = None
    sight: Direction | None = None
    radius_mm: Length = 0.0
    clearance_mm: Annotated[Length, Field(ge=LEAST_CLEARANCE_MM)] = CLEARANCE_MM
    allowed: Literal["nowhere in the stone", "off the table"] = "nowhere in the stone"

    @model_validator(mode="after")
    def _one_kind(self) -> "FlawTable":
        line = (self.from_mm is not None, self.to_mm is not None)
        kinds = (line[0], self.point_mm is not None, self.mesh is not None)
        if line[0] != line[1] or sum(kinds) != 1:
            raise ValueError("must have either point_mm, or from_mm and to_mm, or a mesh")
        if self.mesh is not None and self.radius_mm > 0.0:
            raise ValueError("has a mesh and a radius_mm: drop radius_mm and enlarge clearance_mm")
        if line[0] and self.from_mm == self.to_mm:
            raise ValueError("has from_mm and to_mm at one place: give point_mm instead")
        if self.normal is not None and self.point_mm is None:
            raise ValueError("has a normal, which is only for a crack at point_mm: drop it")
        if self.normal is None and self.across_mm is not None:
            raise ValueError("has across_mm, which is for a crack: give its normal too")
        return self._window_checked()

    def _window_checked(self) -> "FlawTable":
        if (self.window is None) != (self.apparent_depth_mm is None):
            raise ValueError("must have window and apparent_depth_mm together")
        if self.window is not None and self.point_mm is None:
            raise ValueError("is seen through a window: say where, by point_mm on the window")
        if self.window is None and self.sight is not None:
            raise ValueError("has a line of sight, but no window and apparent_depth_mm")
        return self

    def as_flaw(
        self, named_faces: NamedFaces, material: Material, mesh: Mesh | None, inner: Floats | None
    ) -> Flaw:
        """The flaw. ``mesh`` is the one that its key names, in mm; ``inner`` (3,) a point in it.

        Raises ValueError where the named faces or the window don't determine its places.
        """
        what = f'flaw "{self.name}"'
        places = [self.point_mm] if self.point_mm is not None else [self.from_mm, self.to_mm]
        ends = [inner] if inner is not None else [named_faces.place(t, what) for t in places if t]
        normal, across, radius_mm = None, 0.0, self.radius_mm
        if self.normal is not None:
            normal, across = named_faces.direction(self.normal), self.across_mm or math.inf
        if self.window is not None:
            # It may lie anywhere between: a point becomes a line, a crack becomes thicker.
            ends = self._true_places(ends[0], named_faces, material)
            if normal is not None:
                radius_mm += float(np.linalg.norm(ends[-1] - ends[0])) / 2.0
                ends = [np.mean(ends, axis=0)]
        return Flaw(
            self.name, np.array(ends, float), normal, across, radius_mm, self.clearance_mm,
            mesh, self.mesh, self.allowed == ALLOWED_OFF_TABLE,
        )  # fmt: skip

    def _true_places(
        self, entry: Floats, named_faces: NamedFaces, material: Material
    ) -> list[Floats]:
        """Its place by the least and by the greatest refractive index; one place where these are
        equal."""
        assert self.window is not None
        assert self.apparent_depth_mm is not None
        if material.ri is None:
            raise ValueError(
                f"is seen through a window, but no refractive index of {material.name} is known"
            )
        window = named_faces.face(self.window)
        aside = abs(float(window.normal @ entry - window.offset))
        if aside > ON_WINDOW_MM:
            raise ValueError(
                f'has point_mm {aside:.2f} mm off its window "{self.window}": give the place on it'
            )
        look = None if self.sight is None else named_faces.direction(self.sight)
        places = [
            behind_window(window, entry, self.apparent_depth_mm, index, look)
            for index in sorted(set(material.ri))
        ]
        deep = sorted(window.offset - float(window.normal @ place) for place in places)
        named_faces.notes.append(
            f'flaw "{self.name}" is seen {plain(self.apparent_depth_mm)} mm deep through '
            f'"{self.window}" and lies {deep[0]:.2f} to {deep[-1]:.2f} mm deep, by the refractive '
            f"index of {material.name}, {plain(material.ri[0])} to {plain(material.ri[1])}"
        )
        return places


def flaw_keys(flaw: Flaw) -> dict[str, Any]:
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
    return facts
