"""Bodies of designs that grow: by width, or by clearance at a fixed width."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.design.model import Body
from optimizer.mesh import Floats
from optimizer.placement.growth import Growth, Slopes


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
    nudges: "tuple[Nudge, ...]" = ()  # one for each free parameter

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


@dataclass(frozen=True)
class Nudge:
    """The body with one free parameter a little greater, and a little less; ``step`` apart."""

    plus: Growing
    minus: Growing
    step: float  # from the one to the other, in the parameter's own unit


def growing_in_shape(
    body: Body, nudged: Sequence[tuple[Body, Body, float]], skin_mm: float, narrowest: float
) -> Growing:
    """σ is the width in mm, and the body's parameters are free: ``nudged`` are, for each, the body
    with more of it and with less, same corners and facets in the same order, and the step."""
    growing = growing_by_width(body, skin_mm, narrowest)
    if not nudged:
        return growing
    nudges = tuple(
        Nudge(
            growing_by_width(plus, skin_mm, narrowest),
            growing_by_width(minus, skin_mm, narrowest),
            step,
        )
        for plus, minus, step in nudged
    )
    growths = tuple(
        replace(growth, slopes=_slopes(nudges, k)) for k, growth in enumerate(growing.growths)
    )
    return replace(growing, growths=growths, nudges=nudges)


def _slopes(nudges: tuple[Nudge, ...], number: int) -> Slopes:
    """Of growth ``number`` (a nudged body that needs no second one has its first), by central
    differences."""

    def slope(name: str, nudge: Nudge) -> Floats:
        ends = (g.growths[: number + 1][-1] for g in (nudge.plus, nudge.minus))
        more, less = (getattr(growth, name) for growth in ends)
        return np.asarray((more - less) / nudge.step)

    names = ("normals", "alpha", "beta", "corners0", "corners1")
    return Slopes(*(np.array([slope(name, n) for n in nudges]) for name in names))


def growing_by_width(body: Body, skin_mm: float, narrowest: float) -> Growing:
    """σ is the width in mm."""
    return Growing(body, by_width(body, skin_mm, narrowest), None)


def growing_by_clearance(body: Body, width: float) -> Growing:
    """σ is the clearance in mm at a fixed width."""
    return Growing(body, by_clearance(body, width), width)
