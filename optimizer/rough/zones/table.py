"""Colour boundaries in rough files: [[zones]], and writing them.

A boundary is given by one of several sets of keys; which set it is decides the boundary's kind.
"""

from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field, model_validator

from optimizer.files.border import OneLine, Table
from optimizer.mesh import Floats, Plane
from optimizer.rough.flats.named_faces import NamedFaces
from optimizer.rough.flats.table import plane_keys
from optimizer.rough.model import (
    NOT_STATED,
    Ball,
    BentSheet,
    Boundary,
    BoundaryFit,
    Colour,
    ConvexRoom,
    Zone,
)
from optimizer.rough.rough_file.keys import Direction, Number, Place, Width
from optimizer.rough.zones.boundary import empty, heights
from optimizer.rough.zones.boundary_fit import (
    FEWEST,
    distances,
    fit_of,
    fitted_ball,
    fitted_band,
    fitted_bent,
    fitted_plane,
)
from optimizer.rough.zones.colour_table import BodyColourTable, colour_keys

MOST_PLANES = 12
MOST_MARKS = 10_000
LEAST_OFF_MM = 0.1  # of at_mm from the boundary: places are marked no better than this (common
# practice, no source)

Shape = Literal["plane", "band", "corner", "ball", "bent"]
Marks = Annotated[list[Place], Field(min_length=1, max_length=MOST_MARKS)]


class ColourTable(BodyColourTable):
    """[zones.towards] and [zones.away]: the colour of one side of a boundary."""

    at_mm: Place | None = None  # any place that has this colour


class SideTable(Table):
    """One plane, given by a point and a direction, by a named face, or by places marked on it."""

    point_mm: Place | None = None
    normal: Direction | None = None
    parallel_to: OneLine | None = None
    depth_mm: Number | None = None
    points_mm: Marks | None = None

    @property
    def keys(self) -> frozenset[str]:
        """Those of the boundary that are given."""
        apart = {"name", "shape", "towards", "away", "from_colours"}
        return frozenset(
            k for k in type(self).model_fields if k not in apart and getattr(self, k) is not None
        )


_PLANE = {
    frozenset({"point_mm", "normal"}),
    frozenset({"parallel_to", "depth_mm"}),
    frozenset({"points_mm"}),
}
_WAYS: dict[str, set[frozenset[str]]] = {
    "plane": _PLANE,
    "band": {
        frozenset({"point_mm", "normal", "thick_mm"}),
        frozenset({"parallel_to", "depth_mm", "thick_mm"}),
        frozenset({"points_mm", "far_points_mm"}),
    },
    "corner": {frozenset({"planes"})},
    "ball": {frozenset({"centre_mm", "radius_mm"}), frozenset({"points_mm"})},
    "bent": {
        frozenset({"points_mm"}),
        frozenset({"point_mm", "normal", "along", "bend_per_mm"}),
    },
}
_OF_COLOURS = ("plane", "band", "ball")


class CornerSideTable(SideTable):
    """[[zones.planes]]: one of the planes that meet in a corner."""

    @model_validator(mode="after")
    def _one_way(self) -> "CornerSideTable":
        if self.keys not in _PLANE:
            raise ValueError(f"tells a plane by {_listed(self.keys)}: {_wanted(_PLANE)}")
        return self


class ZoneTable(SideTable):
    """[[zones]]: a boundary between two colours, by one of the ways to say where it lies."""

    name: OneLine
    shape: Shape | None = None
    far_points_mm: Marks | None = None
    thick_mm: Width | None = None
    planes: Annotated[list[CornerSideTable], Field(min_length=2, max_length=MOST_PLANES)] | None = (
        None
    )
    centre_mm: Place | None = None
    radius_mm: Width | None = None
    along: Direction | None = None
    bend_per_mm: Annotated[list[Number], Field(min_length=2, max_length=2)] | None = None
    from_colours: Literal[True] | None = None
    towards: ColourTable
    away: ColourTable

    @property
    def kind(self) -> str:
        """The shape, where it is not stated by what the keys can tell; a plane where in doubt."""
        if self.shape is not None:
            return self.shape
        return next((kind for kind, ways in _WAYS.items() if self.keys in ways), "plane")

    @model_validator(mode="after")
    def _two_names(self) -> "ZoneTable":
        if self.towards.colour == self.away.colour:  # an order names a side by its colour
            raise ValueError(
                f'has the colour "{self.towards.colour}" on both sides: give towards and away two '
                "different names"
            )
        return self

    @model_validator(mode="after")
    def _one_way(self) -> "ZoneTable":
        if self.from_colours:
            return self._of_colours()
        if self.keys not in _WAYS[self.kind]:
            raise ValueError(
                f"tells a {self.kind} by {_listed(self.keys)}: {_wanted(_WAYS[self.kind])}"
            )
        marked = self.keys == {"points_mm"} or any(
            side.points_mm is not None for side in self.planes or ()
        )
        if marked and self.kind != "ball" and self.towards.at_mm is None:
            raise ValueError(
                "is marked by places, which don't say on which side its colour lies: add to "
                "towards at_mm = [x, y, z], any place that has that colour"
            )
        return self

    def _of_colours(self) -> "ZoneTable":
        if self.keys:
            raise ValueError(f"is to be found from_colours: drop {_listed(self.keys)}")
        if self.kind not in _OF_COLOURS:
            raise ValueError(f"can't be found from_colours as a {self.kind}: only as a "
                             f"{', '.join(_OF_COLOURS[:-1])} or {_OF_COLOURS[-1]}")  # fmt: skip
        if None in (self.towards.srgb, self.away.srgb) and self.towards.at_mm is None:
            raise ValueError(
                "is to be found from_colours: say which colour is which, by srgb on both sides or "
                "by at_mm on the side of towards"
            )
        return self

    def colours(self) -> tuple[Colour, Colour]:
        """(towards, away)."""
        return self.towards.as_colour(NOT_STATED[0]), self.away.as_colour(NOT_STATED[1])

    def as_zone(self, named_faces: NamedFaces) -> Zone:
        """The boundary that is given by keys other than from_colours.

        Raises ValueError where places are too few or badly spread, or no room is left.
        """
        what = f'zone "{self.name}"'
        boundary, fit = self._boundary(named_faces, what)
        at = self.towards.at_mm
        if at is not None:
            inside = named_faces.place(at, f"the {self.towards.colour} of {what}")
            if fit is not None and self.far_points_mm is None:
                self._must_tell_a_side(boundary, inside, fit)
            boundary = self._facing(boundary, inside)
        if isinstance(boundary, ConvexRoom) and empty(boundary):
            raise ValueError(f"leaves no room for {self.towards.colour}: reverse a normal")
        return Zone(self.name, boundary, *self.colours(), fit)

    def _boundary(self, named_faces: NamedFaces, what: str) -> tuple[Boundary, BoundaryFit | None]:
        if self.planes is not None:
            return self._corner(named_faces, what)
        if self.points_mm is not None:
            return self._marked(named_faces, what)
        if self.centre_mm is not None and self.radius_mm is not None:
            return Ball(
                named_faces.place(self.centre_mm, f"the middle of {what}"), self.radius_mm
            ), None
        plane = _plane(self, named_faces, what)
        if self.thick_mm is not None:
            far = Plane(-plane.normal, -plane.offset - self.thick_mm)
            return ConvexRoom((plane, far)), None
        if self.bend_per_mm is not None and self.along is not None and self.point_mm is not None:
            frame = _frame(plane.normal, named_faces.direction(self.along))
            middle = named_faces.place(self.point_mm, what)
            return BentSheet(middle, frame, np.array(self.bend_per_mm, float)), None
        return plane, None

    def _marked(self, named_faces: NamedFaces, what: str) -> tuple[Boundary, BoundaryFit]:
        points = _points(self.points_mm, named_faces, what)
        if self.far_points_mm is not None:
            far = _points(self.far_points_mm, named_faces, what)
            points, band = np.vstack([points, far]), fitted_band(points, far)
            return band, fit_of(band, points, len(points) - 4)
        fitted: Boundary
        match self.kind:
            case "ball":
                fitted, fewest = fitted_ball(points), FEWEST["ball"]
            case "bent":
                fitted, fewest = fitted_bent(points), FEWEST["bent sheet"]
            case _:
                fitted, fewest = fitted_plane(points), FEWEST["plane"]
        return fitted, fit_of(fitted, points, len(points) - fewest)

    def _corner(self, named_faces: NamedFaces, what: str) -> tuple[Boundary, BoundaryFit | None]:
        sides = self.planes or []
        planes = [_plane(side, named_faces, what) for side in sides]
        marked = [_points(side.points_mm, named_faces, what) for side in sides if side.points_mm]
        corner = ConvexRoom(tuple(planes))
        if not marked:
            return corner, None
        turned = self._facing_marked(corner, named_faces, what)
        points = np.vstack(marked)
        return turned, fit_of(turned, points, len(points) - 3 * len(marked))

    def _facing_marked(self, corner: ConvexRoom, named_faces: NamedFaces, what: str) -> ConvexRoom:
        """The corner with planes through marked places turned towards the colour; others stay."""
        assert self.towards.at_mm is not None
        inside = named_faces.place(self.towards.at_mm, f"the {self.towards.colour} of {what}")[None]
        sides = zip(corner.planes, self.planes or (), strict=True)
        return ConvexRoom(tuple(
            plane.flipped() if side.points_mm and heights(plane, inside)[0] < 0.0 else plane
            for plane, side in sides
        ))  # fmt: skip

    def _must_tell_a_side(self, boundary: Boundary, inside: Floats, fit: BoundaryFit) -> None:
        """Raises ValueError where ``inside`` lies so near the boundary that chance decides."""
        gap = float(distances(boundary, inside[None])[0])
        if gap <= max(LEAST_OFF_MM, fit.worst_mm):
            raise ValueError(
                f"has its place of {self.towards.colour} (at_mm) {gap:.2f} mm off the boundary, "
                f"too near to tell the side: give one well within the {self.towards.colour}"
            )

    def _facing(self, boundary: Boundary, inside: Floats) -> Boundary:
        """The boundary with ``inside`` on the side of ``towards``; one that was fitted to places is
        turned over for that. Raises ValueError where other keys contradict ``inside``."""
        if heights(boundary, inside[None])[0] > 0.0:
            return boundary
        if self.keys == {"points_mm"} and isinstance(boundary, Plane):
            return boundary.flipped()
        if self.keys == {"points_mm"} and isinstance(boundary, BentSheet):
            u, v, w = boundary.frame
            return BentSheet(boundary.middle, np.array([u, -v, -w]), -boundary.bend)
        raise ValueError(
            f"has its place of {self.towards.colour} (at_mm) on the side of {self.away.colour}: "
            "check the place, or exchange towards and away"
        )


def zone_keys(zone: Zone) -> dict[str, Any]:
    """The boundary as a table of a rough file."""
    sides = {"towards": zone.towards, "away": zone.away}
    colours = {key: colour_keys(side) for key, side in sides.items()}
    return {"name": zone.name, **_boundary_keys(zone.boundary), **colours}


def _boundary_keys(boundary: Boundary) -> dict[str, Any]:
    match boundary:
        case Plane():
            return plane_keys(boundary)
        case ConvexRoom() if boundary.thick_mm is not None:
            return {**plane_keys(boundary.planes[0]), "thick_mm": boundary.thick_mm}
        case ConvexRoom():
            return {"planes": [plane_keys(plane) for plane in boundary.planes]}
        case Ball():
            return {"centre_mm": boundary.centre, "radius_mm": boundary.radius_mm}
        case BentSheet():
            return {
                "point_mm": boundary.middle, "normal": boundary.frame[2],
                "along": boundary.frame[0], "bend_per_mm": boundary.bend,
            }  # fmt: skip


def _plane(side: SideTable, named_faces: NamedFaces, what: str) -> Plane:
    if side.points_mm is not None:
        return fitted_plane(_points(side.points_mm, named_faces, what))
    if side.parallel_to is not None and side.depth_mm is not None:
        return named_faces.beneath(side.parallel_to, side.depth_mm)
    assert side.point_mm is not None
    assert side.normal is not None
    return Plane.through(named_faces.place(side.point_mm, what), named_faces.direction(side.normal))


def _points(marks: list[Any] | None, named_faces: NamedFaces, what: str) -> Floats:
    return np.array([named_faces.place(mark, f"a place on {what}") for mark in marks or ()])


def _frame(normal: Floats, along: Floats) -> Floats:
    across = np.cross(normal, along)
    if np.linalg.norm(across) < 1e-6:
        raise ValueError("has along in the direction of normal: it must lie in the boundary")
    across /= np.linalg.norm(across)
    return np.array([np.cross(across, normal), across, normal])


def _listed(keys: frozenset[str]) -> str:
    return " and ".join(sorted(keys)) or "nothing"


def _wanted(ways: set[frozenset[str]]) -> str:
    options = sorted(" with ".join(sorted(way, reverse=True)) for way in ways)
    return "give " + ", or ".join(options)
