"""Designs, and the convex bodies that they become."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats, Ints, Mesh


@dataclass(frozen=True)
class Body:
    """A facetted convex stone as a function of its finished width s in mm; stone frame.

    Facet i at width 1 is ``normals[i]``·z <= ``offsets[i]``; m facets, k corners, f triangles.
    At width s the girdle band is max(``girdle_share``·s, ``least_girdle_mm``) thick: with
    δ = max(0, least_girdle_mm − girdle_share·s) the crown half moves up and the pavilion half
    down by δ/2, so bodies are nested in s.
    """

    normals: Floats  # (m, 3) outward, unit length
    offsets: Floats  # (m,) positive
    vertices: Floats  # (k, 3) corners at width 1 and δ = 0
    faces: Ints  # (f, 3) triangles over the corners, counter-clockwise from outside
    facet_of_face: Ints  # (f,) the facet that each triangle belongs to
    facet_names: tuple[str, ...]  # (m,) tier name and index setting
    rotations: Floats  # (q, 3, 3) proper rotations that map the body onto itself, identity first
    girdle_share: float
    least_girdle_mm: float

    def extra_girdle_mm(self, width: float) -> float:
        """δ: how much thicker the band is than its share of the width, in mm."""
        return max(0.0, self.least_girdle_mm - self.girdle_share * width)

    def offsets_at(self, width: float) -> Floats:
        """Facet distances from the origin in mm, (m,)."""
        half = self.extra_girdle_mm(width) / 2.0
        return width * self.offsets + half * np.abs(self.normals[:, 2])

    def vertices_at(self, width: float) -> Floats:
        """Corners in mm, (k, 3), stone frame."""
        half = self.extra_girdle_mm(width) / 2.0
        corners = width * self.vertices
        corners[:, 2] += half * np.sign(self.vertices[:, 2])
        return corners

    def mesh_at(self, width: float) -> Mesh:
        """The closed solid at this width, stone frame."""
        return Mesh(self.vertices_at(width), self.faces)


@dataclass(frozen=True)
class Parameter:
    """One number a design may vary: its usual value and the range the design declares."""

    name: str
    default: float
    low: float
    high: float


@dataclass(frozen=True)
class Tier:
    """Facets cut at one angle. ``settings`` are whole numbers on the design's index gear."""

    name: str
    side: str  # "crown" | "girdle" | "pavilion" | "table"
    angle_deg: float  # from the girdle plane; 90 on the girdle, 0 for the table
    settings: tuple[int, ...]
    cut_to: str  # a plain sentence


@dataclass(frozen=True)
class Design:
    """A design of the library: a function from parameters to a body and its tiers."""

    name: str
    title: str
    summary: str
    gear: int
    parameters: Mapping[str, Parameter]
