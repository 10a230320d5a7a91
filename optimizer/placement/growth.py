"""Bodies that grow with one number σ: by width, or by clearance at a fixed width."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from optimizer.design.model import Body
from optimizer.mesh import Floats
from optimizer.placement.under_table import part_under_table


@dataclass(frozen=True)
class Growth:
    """{z : normals·z <= alpha + beta·σ}, kept ``margin0 + margin1·σ`` mm from the surface.

    The margin is already part of ``alpha`` and ``beta`` (facets moved out, mitred);
    ``corners0 + corners1·σ`` are the corners without it.
    """

    normals: Floats  # (m, 3)
    alpha: Floats  # (m,)
    beta: Floats  # (m,) positive
    corners0: Floats  # (k, 3)
    corners1: Floats  # (k, 3)
    margin0: float
    margin1: float

    @property
    def pace(self) -> float:
        """The least mm that a facet moves outwards for one unit of σ."""
        return float(self.beta.min())

    def kept(self, extra_mm: float) -> "Growth":
        """The same body with a margin that is larger by ``extra_mm``, which may be negative."""
        return replace(self, alpha=self.alpha + extra_mm, margin0=self.margin0 + extra_mm)

    @cached_property
    def under_table(self) -> "Growth":
        """The part of the body that lies straight below its table."""
        return part_under_table(self)


def by_width(body: Body, skin_mm: float, narrowest: float) -> tuple[Growth, ...]:
    """The body growing with its width σ = s in mm, skin included, for s >= ``narrowest``.

    With a least girdle in mm the body is the larger of two, one for each side of the width
    where share and least agree; it reaches a point when either does, and it keeps clear when
    both do.
    """
    band = np.abs(body.normals[:, 2])
    lift = np.zeros_like(body.vertices)
    lift[:, 2] = np.sign(body.vertices[:, 2]) / 2.0
    share, least = body.girdle_share, body.least_girdle_mm
    plain = Growth(
        body.normals,
        np.full(len(body.offsets), skin_mm),
        body.offsets,
        np.zeros_like(body.vertices),
        body.vertices,
        skin_mm,
        0.0,
    )
    if least <= share * narrowest:
        return (plain,)
    thick = Growth(
        body.normals,
        skin_mm + band * least / 2.0,
        body.offsets - band * share / 2.0,
        lift * least,
        body.vertices - lift * share,
        skin_mm,
        0.0,
    )
    return (plain, thick)


def by_clearance(body: Body, width: float) -> tuple[Growth, ...]:
    """The body at a fixed width, its margin σ growing from nothing."""
    corners = body.vertices_at(width)
    return (
        Growth(
            body.normals,
            body.offsets_at(width),
            np.ones(len(body.offsets)),
            corners,
            np.zeros_like(corners),
            0.0,
            1.0,
        ),
    )


@dataclass(frozen=True)
class Growing:
    """A body and the way it grows: with its width, or with its clearance at ``fixed_width``."""

    body: Body
    growths: tuple[Growth, ...]
    fixed_width: float | None

    def width(self, sigma: float) -> float:
        """Width in mm at σ."""
        return sigma if self.fixed_width is None else self.fixed_width

    def corners(self, sigma: float) -> Floats:
        """Corners (k, 3) without margin at σ, stone frame."""
        return self.body.vertices_at(self.width(sigma))

    def pace(self, sigma: float) -> Floats:
        """How the corners move for one unit of σ, (k, 3)."""
        return self.near(sigma, 0.0)[-1].corners1

    def near(self, sigma: float, band: float) -> tuple[Growth, ...]:
        """The growths that can be the larger body within ``band`` of σ."""
        plain, thick = self.growths[0], self.growths[-1]
        if plain is thick or self.body.extra_girdle_mm(self.width(sigma - band)) == 0.0:
            return (plain,)
        if self.body.extra_girdle_mm(self.width(sigma + band)) > 0.0:
            return (thick,)
        return (plain, thick)


def growing_by_width(body: Body, skin_mm: float, narrowest: float) -> Growing:
    """σ is the width in mm."""
    return Growing(body, by_width(body, skin_mm, narrowest), None)


def growing_by_clearance(body: Body, width: float) -> Growing:
    """σ is the clearance in mm at a fixed width."""
    return Growing(body, by_clearance(body, width), width)
