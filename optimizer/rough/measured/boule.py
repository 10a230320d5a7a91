"""A boule, whole or split lengthwise: readings at stations along it, and how its ends close."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Annotated, Literal

import numpy as np
from pydantic import Field, model_validator

from optimizer.files.border import Table
from optimizer.mesh import Floats, Mesh, Plane
from optimizer.rough.measured.form import (
    LEAST_MM,
    Dimension,
    FormSolid,
    FormTable,
    PieceFacts,
    Place,
    Reading,
    bend_words,
    widest_spread,
)
from optimizer.rough.measured.loft import loft, steps
from optimizer.rough.measured.sections import ellipses, segments
from optimizer.rough.measured.stations import Profile, between_stations, changing_evenly
from optimizer.rough.model import ReferenceFace
from optimizer.wording.plain_number import plain

_UP = np.array([0.0, 0.0, 1.0])
_LABORATORY = "laboratory-grown"  # a material's origin: such a boule has grown along its length


class EndTable(Table):
    """How an end closes beyond its last station."""

    form: Literal["flat", "dome", "point"] = "flat"
    height_mm: Dimension | None = None

    @model_validator(mode="after")
    def _consistent(self) -> "EndTable":
        if self.form == "flat" and self.height_mm is not None:
            raise ValueError("is flat and has a height_mm: keep one")
        if self.form != "flat" and self.height_mm is None:
            raise ValueError(f"is a {self.form}: add its height_mm beyond the last station")
        return self

    @property
    def height(self) -> float:
        """How far the end reaches beyond the last station, mm."""
        return self.height_mm.mm if self.height_mm else 0.0

    @property
    def readings(self) -> tuple[Reading, ...]:
        """The reading of the height, where there is one."""
        return (self.height_mm,) if self.height_mm else ()


class StationTable(Table):
    """A place along a boule where it was read across, once or both ways."""

    at_mm: Place
    diameter_mm: Dimension
    other_diameter_mm: Dimension | None = None

    @property
    def readings(self) -> tuple[Reading, Reading]:
        """Those along x and y: one and the same where it was read once."""
        return self.diameter_mm, self.other_diameter_mm or self.diameter_mm

    @property
    def half(self) -> tuple[float, float]:
        """Half axes along x and y, mm."""
        across, other = self.readings
        return across.mm / 2.0, other.mm / 2.0


class SplitStationTable(Table):
    """A place along a split boule where the split face and the piece's thickness were read."""

    at_mm: Place
    width_mm: Dimension
    thickness_mm: Dimension | None = None

    @property
    def readings(self) -> tuple[Reading, Reading]:
        """Those of width and thickness: the width's again where the thickness was not read."""
        return self.width_mm, self.thickness_mm or self.width_mm

    @property
    def half(self) -> tuple[float, float]:
        """Half the split face's width, and the thickness: that of half a round boule where it was
        not read."""
        half = self.width_mm.mm / 2.0
        return half, self.thickness_mm.mm if self.thickness_mm else half

    @model_validator(mode="after")
    def _wide_enough(self) -> "SplitStationTable":
        half, thickness = self.half
        if thickness > 2.0 * half:
            raise ValueError(
                f"has a thickness of {plain(thickness)} mm, more than its width: read the width "
                "across the split face, and the thickness square to it"
            )
        return self


Stations = Sequence[StationTable] | Sequence[SplitStationTable]
Section = Callable[[Floats, float], Floats]  # rings (k, n, 2) for half sizes (k, 2) and a sagitta


class _BouleTable(FormTable):
    """What whole and split boules have in common."""

    unsure_by = "readings of one station that differ"
    other_readings = "stations"

    start_end: EndTable = EndTable()
    far_end: EndTable = EndTable()

    def _skin(self, profile: Profile, section: Section) -> Mesh:
        sides = section(profile.half, self.sagitta_mm).shape[1]
        at, half = changing_evenly(profile, 2.0 * np.pi / sides)
        rings = _stacked(section(half, self.sagitta_mm), at)
        start, first = _end(rings[0], self.start_end, -1.0, self.sagitta_mm)
        far, last = _end(rings[-1], self.far_end, 1.0, self.sagitta_mm)
        skin = loft(np.concatenate([start[::-1], rings, far]), first, last)
        _refuse_twisted(skin)
        return skin

    def _built(self, stations: Stations, section: Section, known: PieceFacts) -> FormSolid:
        """The solid of a boule, but for the frame and faces that differ between the two kinds."""
        _refuse_out_of_order([station.at_mm for station in stations])
        _refuse_tall("start_end", self.start_end, stations[0])
        _refuse_tall("far_end", self.far_end, stations[-1])
        profile = between_stations(
            np.array([station.at_mm for station in stations]),
            np.array([station.half for station in stations]),
        )
        measured = (*stations, self.start_end, self.far_end)
        ends = {"start end": self.start_end, "far end": self.far_end}
        return FormSolid(
            self._skin(profile, section),
            frame="z runs along the boule as at_mm says",
            faces=_flat_ends(ends, profile.at),
            unsure_mm=widest_spread([r for each in measured for r in each.readings]),
            notes=(_between_note(profile),),
            doubts=(*_few_stations(len(stations)), *_guessed_ends(ends)),
            growth_axis=_UP if known.material.origin == _LABORATORY else None,
        )


class BouleTable(_BouleTable):
    """A whole boule, round or oval."""

    form: Literal["boule"]
    stations: Annotated[list[StationTable], Field(min_length=2, max_length=500)]

    def solid(self, known: PieceFacts) -> FormSolid:
        """Ellipses from station to station, and the ends."""
        made = self._built(self.stations, ellipses, known)
        across = "x along each diameter_mm, y along the other one; the axis is at x = y = 0"
        return replace(made, frame=f"{made.frame}, {across}")


class SplitBouleTable(_BouleTable):
    """A boule split lengthwise, at its middle or beside it."""

    form: Literal["split boule"]
    stations: Annotated[list[SplitStationTable], Field(min_length=2, max_length=500)]

    def solid(self, known: PieceFacts) -> FormSolid:
        """Segments of circles from station to station, and the ends."""
        made = self._built(self.stations, segments, known)
        across = (
            "x across the split face from its middle line, y square to that face into the piece"
        )
        return replace(made, frame=f"{made.frame}, {across}", faces=(*made.faces, _split_face()))


def _split_face() -> ReferenceFace:
    return ReferenceFace("split face", Plane(np.array([0.0, -1.0, 0.0]), 0.0))


def _stacked(rings: Floats, at: Floats) -> Floats:
    """Rings (k, n, 2) at their heights (k,) as points (k, n, 3)."""
    heights = np.broadcast_to(at[:, None, None], (*rings.shape[:2], 1))
    return np.concatenate([rings, heights], axis=2)


def _end(rim: Floats, end: EndTable, way: float, sagitta_mm: float) -> tuple[Floats, Floats]:
    """(rings (k, n, 3) from the rim outwards, the last point (3,)) of an end beyond the ring
    ``rim`` (n, 3), up where ``way`` is 1, down where it is -1."""
    none, level = np.empty((0, *rim.shape)), rim[0, 2]
    if end.form == "flat":
        return none, rim.mean(axis=0)
    tip = np.array([0.0, 0.0, level + way * end.height])
    if end.form == "point":
        return none, tip
    reach = max(float(np.abs(rim[:, :2]).max()), end.height)
    count = steps(np.pi / 2.0, reach, sagitta_mm)
    turn = np.arange(1, count)[:, None] * (np.pi / 2.0 / count)
    rings = np.empty((count - 1, *rim.shape))
    rings[:, :, :2] = np.cos(turn)[:, :, None] * rim[:, :2]
    rings[:, :, 2] = level + way * end.height * np.sin(turn)
    return rings, tip


def _refuse_out_of_order(places: Sequence[float]) -> None:
    for number, (one, other) in enumerate(pairwise(places), 2):
        if other - one < LEAST_MM:
            raise ValueError(
                f"has station {number} at {plain(other)} mm, which is not beyond the one before it "
                f"at {plain(one)} mm: put the stations in their order along the piece"
            )


def _refuse_tall(name: str, end: EndTable, last: StationTable | SplitStationTable) -> None:
    width = 2.0 * min(last.half)
    if end.height > width:
        raise ValueError(
            f"has a {name} {plain(end.height)} mm high, but its last station is only "
            f"{plain(width)} mm wide: read stations along it instead"
        )


def _refuse_twisted(skin: Mesh) -> None:
    from optimizer.rough.repair.crossing import crossing_pairs, resolution

    if len(crossing_pairs(skin, resolution(skin.vertices))):
        raise ValueError(
            "has readings that change so much from station to station that the sides pass through "
            "one another: check them, and read more stations there"
        )


def _flat_ends(ends: dict[str, EndTable], at: Floats) -> tuple[ReferenceFace, ...]:
    planes = (Plane(-_UP, -float(at[0])), Plane(_UP, float(at[-1])))
    return tuple(
        ReferenceFace(name, plane)
        for (name, end), plane in zip(ends.items(), planes, strict=True)
        if end.form == "flat"
    )


def _between_note(profile: Profile) -> str:
    return (
        "between stations its sides are taken as straight; by their readings' curvature they "
        + bend_words(profile.bulge_mm, profile.waist_mm, "which is drawn in here")
    )


def _few_stations(count: int) -> tuple[str, ...]:
    if count > 2:
        return ()
    return (
        "nothing is known of the piece between its two stations, where it is taken as straight: "
        "read a third",
    )


def _guessed_ends(ends: dict[str, EndTable]) -> list[str]:
    shapes = {"dome": "half an ellipsoid", "point": "a straight cone"}
    return [
        f"the {name} is taken as {shapes[end.form]} {plain(end.height)} mm high, and "
        "nothing was read between its rim and its tip: read stations along it to be sure of it"
        for name, end in ends.items()
        if end.form in shapes
    ]
