"""A sawn block: six flat faces, opposite ones parallel, square or not."""

from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from optimizer.files.border import Table
from optimizer.mesh import Floats, Plane
from optimizer.rough.measured.convex import between
from optimizer.rough.measured.form import Dimension, FormSolid, FormTable, PieceFacts, widest_spread
from optimizer.rough.model import ReferenceFace
from optimizer.wording.plain_number import plain

# A small square or a protractor held to a sawn corner (common practice, no source).
DEFAULT_ANGLE_ERROR_DEG = 0.5
_FACES = (("left end", "right end"), ("front", "back"), ("base", "top"))
_LEAST_CORNER = 0.01  # of the unit cube: a corner that is flatter is no corner

Angle = Annotated[float, Field(gt=0, lt=180, allow_inf_nan=False)]


class AnglesTable(Table):
    """Angles inside the block between two faces that meet."""

    base_front: Angle = 90.0
    base_left: Angle = 90.0
    front_left: Angle = 90.0


class BlockTable(FormTable):
    """Distances between opposite faces, square to them, and the angles at one corner."""

    unsure_by = "angle_error_deg, and readings of one dimension that differ"
    other_readings = "angles_deg"

    form: Literal["block"]
    length_mm: Dimension = Field(examples=[24.5])
    width_mm: Dimension = Field(examples=[18.0])
    height_mm: Dimension = Field(examples=[[12.1, 12.2]])
    angles_deg: AnglesTable = AnglesTable()
    angle_error_deg: Annotated[float, Field(ge=0, le=10)] = DEFAULT_ANGLE_ERROR_DEG

    def solid(self, known: PieceFacts) -> FormSolid:
        """The six planes as a solid; ``known`` adds nothing here."""
        sizes = (self.length_mm, self.width_mm, self.height_mm)
        inwards = self._inward()
        apart = np.array([size.mm for size in sizes])
        centre = np.asarray(np.linalg.solve(inwards, apart / 2.0), np.float64)
        planes = [
            (Plane(-normal, 0.0), Plane(normal, float(gap)))
            for normal, gap in zip(inwards, apart, strict=True)
        ]
        faces = tuple(
            ReferenceFace(name, plane)
            for names, pair in zip(_FACES, planes, strict=True)
            for name, plane in zip(names, pair, strict=True)
        )
        # A face turns about its middle, where its distance was read.
        leaning = float(apart.max() / 2.0 * np.tan(np.radians(self.angle_error_deg)))
        return FormSolid(
            between([face.plane for face in faces], centre),
            frame="the origin is the corner of base, front and left end; x runs from there along "
            "the edge of base and front, y lies in the base towards the back, z goes up",
            faces=faces,
            unsure_mm=widest_spread(sizes) + leaning,
            notes=(self._angles_note(leaning),),
        )

    def _inward(self) -> Floats:
        """Unit normals (3, 3) into the block, rows of left end, front and base.

        The angle inside the block between two faces is 180° less that between their normals.
        """
        angles = self.angles_deg
        degrees = (angles.base_front, angles.base_left, angles.front_left)
        front_z, left_z, along = -np.cos(np.radians(degrees))
        # The square of the box that the normals span, by Gram's determinant.
        box = 1.0 - front_z**2 - left_z**2 - along**2 + 2.0 * front_z * left_z * along
        if box < _LEAST_CORNER**2:
            raise ValueError("has angles_deg that meet in no corner: measure all three at one")
        front_y = np.sqrt(1.0 - front_z**2)
        left_y = (along - front_z * left_z) / front_y
        left = [np.sqrt(box) / front_y, left_y, left_z]
        return np.array([left, [0.0, front_y, front_z], [0.0, 0.0, 1.0]])

    def _angles_note(self, leaning: float) -> str:
        angles = self.angles_deg.model_dump().values()
        square = all(angle == 90.0 for angle in angles)
        shape = "taken as square" if square else "its corners as angles_deg says"
        return (
            f"{shape}, each angle within {plain(self.angle_error_deg)}°, which moves its faces by "
            f"up to {leaning:.2f} mm (angle_error_deg)"
        )
