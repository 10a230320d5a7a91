"""A slab: a traced outline and a thickness."""

from pathlib import Path
from typing import Annotated, Literal

import numpy as np
from pydantic import Field, model_validator

from optimizer.files.border import FileName
from optimizer.mesh import Floats, Mesh, Plane
from optimizer.rough.measured.form import (
    Dimension,
    FormSolid,
    FormTable,
    PieceFacts,
    Place,
    bend_words,
)
from optimizer.rough.measured.outline import MOST_POINTS, bends, checked_outline, read_outline
from optimizer.rough.model import ReferenceFace

_UP = np.array([0.0, 0.0, 1.0])


class SlabTable(FormTable):
    """Its outline, as points here or in a file, and its thickness."""

    unsure_by = "the outline's hollow sides, and readings of thickness_mm that differ"
    other_readings = "the outline"

    form: Literal["slab"]
    thickness_mm: Dimension = Field(examples=[[8.1, 8.3]])
    outline_mm: (
        Annotated[
            list[Annotated[list[Place], Field(min_length=2, max_length=2)]],
            Field(min_length=3, max_length=MOST_POINTS),
        ]
        | None
    ) = None
    outline_file: FileName | None = None

    @model_validator(mode="after")
    def _one_outline(self) -> "SlabTable":
        if (self.outline_mm is None) == (self.outline_file is None):
            raise ValueError("must have either outline_mm or outline_file")
        return self

    def solid(self, known: PieceFacts) -> FormSolid:
        """The outline, raised by the thickness; ``known`` has the folder of its file."""
        outline = checked_outline(self._points(known.folder))
        thickness = self.thickness_mm.mm
        bulge, hollow = bends(outline)
        return FormSolid(
            upright(outline, thickness),
            frame="x and y are those of the outline, z goes up from the bottom face at 0",
            faces=(
                ReferenceFace("bottom", Plane(-_UP, 0.0)),
                ReferenceFace("top", Plane(_UP, thickness)),
            ),
            unsure_mm=self.thickness_mm.spread_mm + hollow,
            notes=(
                "between its points the outline is taken as straight, its edge as upright; by the "
                "turns from point to point its sides "
                + bend_words(bulge, hollow, "which the error of the surface includes"),
            ),
        )

    def _points(self, folder: Path) -> Floats:
        if self.outline_file is not None:
            return read_outline(folder / self.outline_file)
        return np.array(self.outline_mm, np.float64)


def upright(outline: Floats, height: float) -> Mesh:
    """The prism over a simple polygon (n, 2), counter-clockwise, from z = 0 to ``height``."""
    import manifold3d

    count = len(outline)
    flat = np.asarray(manifold3d.triangulate([outline]), np.int64)
    this = np.arange(count)
    after = np.roll(this, -1)
    faces = [
        flat[:, ::-1],
        flat + count,
        np.column_stack([this, after, after + count]),
        np.column_stack([this, after + count, this + count]),
    ]
    low = np.column_stack([outline, np.zeros(count)])
    return Mesh(np.vstack([low, low + height * _UP]), np.vstack(faces).astype(np.int64))
