"""Reference faces in rough files: [[reference_faces]], and writing them."""

import numpy as np
from pydantic import field_validator

from optimizer.border import OneLine, Table
from optimizer.mesh import Plane
from optimizer.rough.keys import Point, must_point, toml_lines
from optimizer.rough.model import ReferenceFace


class FaceTable(Table):
    name: OneLine
    point_mm: Point
    normal: Point

    points = field_validator("normal")(must_point)

    @property
    def plane(self) -> Plane:
        return Plane.through(np.array(self.point_mm, float), np.array(self.normal, float))

    def as_face(self) -> ReferenceFace:
        return ReferenceFace(self.name, self.plane)


def face_lines(face: ReferenceFace) -> list[str]:
    """The face as a table of a rough file."""
    return ["", "[[reference_faces]]", *plane_lines(face.name, face.plane)]


def plane_lines(name: str, plane: Plane) -> list[str]:
    """The keys of a named plane."""
    point = plane.normal * plane.offset
    return toml_lines({"name": name, "point_mm": point, "normal": plane.normal})
