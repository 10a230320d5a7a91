"""A prism crystal: hexagonal, trigonal or square across, sawn, pointed or broken at its ends."""

from collections.abc import Sequence
from typing import Annotated, Literal

import numpy as np
from pydantic import Field, model_validator

from optimizer.files.border import Table
from optimizer.mesh import Floats, Plane
from optimizer.rough.measured.convex import between
from optimizer.rough.measured.form import (
    Dimension,
    FormSolid,
    FormTable,
    PieceFacts,
    Reading,
    widest_spread,
)
from optimizer.rough.model import ReferenceFace
from optimizer.wording.plain_number import plain

# Species of one optic axis, which runs along the prism (from memory of the usual handbooks).
ONE_OPTIC_AXIS = ("apatite", "beryl", "corundum", "moissanite", "quartz", "tourmaline", "zircon")
# A protractor held to a crystal's edge (common practice, no source).
DEFAULT_ANGLE_ERROR_DEG = 0.5
_UP = np.array([0.0, 0.0, 1.0])
_FOLD = {"hexagonal": 6, "square": 4}


class CrystalEndTable(Table):
    """How the prism ends."""

    form: Literal["sawn", "pyramid", "broken"] = "sawn"
    height_mm: Dimension | None = None
    angle_deg: Annotated[float, Field(gt=90, lt=180, allow_inf_nan=False)] | None = None
    angle_error_deg: Annotated[float, Field(ge=0, le=10)] = DEFAULT_ANGLE_ERROR_DEG
    uneven_mm: Dimension | None = None

    @model_validator(mode="after")
    def _consistent(self) -> "CrystalEndTable":
        pyramid = self.height_mm is not None or self.angle_deg is not None
        if pyramid != (self.form == "pyramid"):
            raise ValueError(
                f'is "{self.form}" and has a pyramid\'s height_mm or angle_deg: keep one'
                if pyramid
                else "is a pyramid: add its height_mm or its angle_deg"
            )
        if (self.uneven_mm is not None) != (self.form == "broken"):
            raise ValueError(
                "is broken: add uneven_mm, from its farthest point to its deepest"
                if self.form == "broken"
                else f'has uneven_mm, which is for a broken end, and is "{self.form}": keep one'
            )
        return self

    @property
    def readings(self) -> tuple[Reading, ...]:
        """The readings of the end: its height, and how uneven it is, where there are any."""
        return tuple(reading for reading in (self.height_mm, self.uneven_mm) if reading)

    def height(self, inner_mm: float) -> float:
        """How far the end reaches beyond the whole prism, mm; ``inner_mm`` is the distance of the
        nearest prism face from the axis. Raises ValueError where angle and height disagree."""
        if self.uneven_mm is not None:
            return self.uneven_mm.mm
        pointed = self._pointed(inner_mm)
        if self.height_mm is None:
            return pointed
        if self.angle_deg is not None and self.height_mm.mm >= pointed:
            raise ValueError(
                f"has a pyramid {plain(self.height_mm.mm)} mm high, which by its angle ends in a "
                f"point at {pointed:.2f} mm: give the height or the angle alone"
            )
        return self.height_mm.mm

    def _pointed(self, inner_mm: float) -> float:
        """The height at which the faces meet, by the angle alone; 0 where none is stated."""
        if self.angle_deg is None:
            return 0.0
        return inner_mm * float(np.tan(np.radians(self.angle_deg - 90.0)))

    def rise(self, inner_mm: float) -> float:
        """How far the pyramid's faces rise for each mm towards the axis; 0 without a pyramid."""
        if self.form != "pyramid":
            return 0.0
        return (self._pointed(inner_mm) or self.height(inner_mm)) / inner_mm

    def leaning(self, inner_mm: float) -> float:
        """How far the error of the angle may move a pyramid face, mm."""
        if self.angle_deg is None:
            return 0.0
        slant = self.height(inner_mm) / np.sin(np.radians(self.angle_deg - 90.0))
        return float(slant * np.tan(np.radians(self.angle_error_deg)))


class CrystalTable(FormTable):
    """Its section, the length from end to end, and both ends."""

    unsure_by = "angle_error_deg, and readings of one dimension that differ"
    other_readings = "the section"

    form: Literal["crystal"]
    section: Literal["hexagonal", "trigonal", "square"]
    across_flats_mm: Dimension | None = None
    across_corners_mm: Dimension | None = None
    side_mm: Dimension | None = None
    other_side_mm: Dimension | None = None
    length_mm: Dimension = Field(examples=[31.5])
    start_end: CrystalEndTable = CrystalEndTable()
    far_end: CrystalEndTable = CrystalEndTable()

    @model_validator(mode="after")
    def _one_way_across(self) -> "CrystalTable":
        across = (self.across_flats_mm is not None) + (self.across_corners_mm is not None)
        sides = self.side_mm is not None or self.other_side_mm is not None
        if self.section == "trigonal" and (across or self.side_mm is None):
            raise ValueError(
                "has a trigonal section: give side_mm and other_side_mm, the lengths of two sides "
                "that meet, and nothing across"
            )
        if self.section != "trigonal" and (sides or across != 1):
            raise ValueError(
                f"has a {self.section} section: give either across_flats_mm or across_corners_mm"
            )
        return self

    def solid(self, known: PieceFacts) -> FormSolid:
        """The prism between its ends. Raises ValueError where the ends leave nothing of it."""
        sides = self._prism_sides()
        inner = min(plane.offset for plane in sides)
        length, ends = self.length_mm.mm, (self.start_end, self.far_end)
        low, high = self.start_end.height(inner), length - self.far_end.height(inner)
        if low >= high:
            raise ValueError(
                f"has ends {low:.2f} and {length - high:.2f} mm high, which leave nothing of the "
                f"prism in a length_mm of {plain(length)}: length_mm runs from end to end"
            )
        upper = _end_planes(self.far_end, sides, inner, high, length)
        lower = [_mirrored(p) for p in _end_planes(self.start_end, sides, inner, -low, 0.0)]
        readings = [self._across(), self.length_mm, *(r for end in ends for r in end.readings)]
        one_axis = known.material.name in ONE_OPTIC_AXIS
        return FormSolid(
            between([*sides, *lower, *upper], np.array([0.0, 0.0, (low + high) / 2.0])),
            frame="z runs along the axis of the prism, 0 at the start end's farthest point, x "
            "square to prism face 1; the faces count round from it as seen from the far end, "
            "counter-clockwise",
            faces=(*_named(sides), *self._sawn_ends(length)),
            unsure_mm=widest_spread(readings) + max(end.leaning(inner) for end in ends),
            doubts=tuple(_doubts("start", self.start_end) + _doubts("far", self.far_end)),
            optic_axis=_UP if one_axis else None,
            not_real=self._broken_ends(low, high),
        )

    def _broken_ends(self, low: float, high: float) -> tuple[Plane, ...]:
        """The planes that stand for broken ends, at z = ``low`` and ``high``."""
        ends = ((self.start_end, Plane(-_UP, -low)), (self.far_end, Plane(_UP, high)))
        return tuple(plane for end, plane in ends if end.form == "broken")

    def _across(self) -> Reading:
        """The reading that gives the section; of two, the one whose values differ most."""
        given = (self.across_flats_mm, self.across_corners_mm, self.side_mm, self.other_side_mm)
        return max((r for r in given if r), key=lambda reading: reading.spread_mm)

    def _prism_sides(self) -> list[Plane]:
        """The prism faces; offsets are their distances from the axis."""
        if self.section == "trigonal":
            return self._trigonal_sides()
        count = _FOLD[self.section]
        flats = self.across_flats_mm
        across = flats.mm if flats else self._across().mm * float(np.cos(np.pi / count))
        return _around(count, 0.0, across / 2.0)

    def _trigonal_sides(self) -> list[Plane]:
        """A hexagon of sides a and b by turns, all its angles 120°: the sides a lie on a triangle
        of side a + 2b, at (a + 2b)/(2√3) from the axis, the sides b likewise."""
        a = self.side_mm.mm if self.side_mm else 0.0
        b = self.other_side_mm.mm if self.other_side_mm else 0.0
        root = 2.0 * np.sqrt(3.0)
        one = _around(3, 0.0, (a + 2.0 * b) / root)
        if self.other_side_mm is None:
            return one
        other = _around(3, np.pi / 3.0, (b + 2.0 * a) / root)
        return [plane for pair in zip(one, other, strict=True) for plane in pair]

    def _sawn_ends(self, length: float) -> list[ReferenceFace]:
        ends = (
            ("start end", self.start_end, Plane(-_UP, 0.0)),
            ("far end", self.far_end, Plane(_UP, length)),
        )
        return [ReferenceFace(name, plane) for name, end, plane in ends if end.form == "sawn"]


def _around(count: int, first: float, distance: float) -> list[Plane]:
    turns = first + np.arange(count) * (2.0 * np.pi / count)
    return [Plane(np.array([np.cos(t), np.sin(t), 0.0]), float(distance)) for t in turns]


def _end_planes(
    end: CrystalEndTable, sides: Sequence[Plane], inner: float, shoulder: float, farthest: float
) -> list[Plane]:
    """The planes that close the prism upwards; ``shoulder`` is where its sides stop, z in mm."""
    rise = end.rise(inner)
    if rise == 0.0:
        return [Plane(_UP, shoulder)]
    edges = [side.normal * side.offset + _UP * shoulder for side in sides]
    faces = [
        Plane.through(edge, side.normal * rise + _UP)
        for edge, side in zip(edges, sides, strict=True)
    ]
    blunt = end.angle_deg is not None and end.height_mm is not None
    return [*faces, Plane(_UP, farthest)] if blunt else faces


def _mirrored(plane: Plane) -> Plane:
    """The plane on the other side of z = 0."""
    mirrored: Floats = plane.normal * np.array([1.0, 1.0, -1.0])
    return Plane(mirrored, plane.offset)


def _named(sides: Sequence[Plane]) -> list[ReferenceFace]:
    return [ReferenceFace(f"prism face {n}", side) for n, side in enumerate(sides, 1)]


def _doubts(name: str, end: CrystalEndTable) -> list[str]:
    if end.form == "pyramid":
        return [
            f"the pyramid of the {name} end is taken as even: like faces that all meet the prism "
            "at one height; where they do not, give the height from the lowest of these edges"
        ]
    if end.form == "broken":
        return [
            f"the broken {name} end is left out as far as it is uneven, so the solid is lighter "
            "than the piece"
        ]
    return []
