"""Reference faces in rough files: [[reference_faces]], and writing them."""

from typing import Any

import numpy as np
from pydantic import field_validator

from optimizer.files.border import OneLine, Table
from optimizer.mesh import Plane
from optimizer.rough.model import ReferenceFace
from optimizer.rough.rough_file.keys import Point, must_point


class FaceTable(Table):
    """[[reference_faces]]: a flat place, by a point in mm and the direction out of the piece."""

    name: OneLine
    point_mm: Point
    normal: Point

    points = field_validator("normal")(must_point)

    def as_face(self) -> ReferenceFace:
        """The face, its normal of length 1."""
        plane = Plane.through(np.array(self.point_mm, float), np.array(self.normal, float))
        return ReferenceFace(self.name, plane)


def face_keys(face: ReferenceFace) -> dict[str, Any]:
    """The face as a table of a rough file."""
    return {"name": face.name, **plane_keys(face.plane)}


def plane_keys(plane: Plane) -> dict[str, Any]:
    """A plane's keys and values."""
    return {"point_mm": plane.normal * plane.offset, "normal": plane.normal}
