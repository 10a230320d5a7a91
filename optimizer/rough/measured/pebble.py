"""A pebble: three diameters, and a weight that says how round or boxy it is. A guess."""

from typing import Literal

import numpy as np
from pydantic import Field

from optimizer.mesh import Floats, Mesh
from optimizer.rough.measured.form import Dimension, FormSolid, FormTable, PieceFacts, widest_spread
from optimizer.rough.measured.loft import loft
from optimizer.wording.plain_number import plain

# Superellipsoids |x/a|^p + |y/b|^p + |z/c|^p = 1: 2 is an ellipsoid, more is boxier, less is more
# like a double pyramid. Beyond these no pebble is like one (a judgement of ours).
LEAST_EXPONENT, MOST_EXPONENT = 1.4, 6.0
ELLIPSOID = 2.0
SHAPE_ERROR_SHARE = 0.05  # of the least diameter, where none is stated (a judgement of ours)
_MOST_SIDES = 64  # of a quarter: 65,000 triangles, which is more than a guess deserves


class PebbleTable(FormTable):
    """Its length, width and height, square to one another."""

    unsure_by = "shape_error_mm, and readings of one dimension that differ"
    other_readings = "height_mm"

    form: Literal["pebble"]
    length_mm: Dimension = Field(examples=[22.0])
    width_mm: Dimension = Field(examples=[17.5])
    height_mm: Dimension = Field(examples=[12.0])
    shape_error_mm: Dimension | None = None

    def solid(self, known: PieceFacts) -> FormSolid:
        """A rounded solid of these sizes, as full as the weight in ``known`` says."""
        sizes = (self.length_mm, self.width_mm, self.height_mm)
        half = np.array([size.mm / 2.0 for size in sizes])
        exponent = self._exponent(half, known)
        least = 2.0 * float(half.min())
        shape = self.shape_error_mm.mm if self.shape_error_mm else SHAPE_ERROR_SHARE * least
        return FormSolid(
            superellipsoid(half, exponent, self.sagitta_mm),
            frame="the origin is the middle; x runs along the length, y along the width, z along "
            "the height",
            unsure_mm=widest_spread(sizes) + shape,
            notes=(_shape_note(exponent, known), f"its shape is taken to be within {shape:.2f} mm"),
            doubts=(_guess(known), *self._shape_error_taken(shape)),
        )

    def _exponent(self, half: Floats, known: PieceFacts) -> float:
        if known.weighed_ct is None:
            return ELLIPSOID
        sg = known.material.sg
        filled = known.weighed_ct * 200.0 / sg / float(8.0 * half.prod())
        low, high = filled_share(LEAST_EXPONENT), filled_share(MOST_EXPONENT)
        if not low <= filled <= high:
            per_share = float(8.0 * half.prod()) * sg / 200.0
            raise ValueError(
                f"has diameters that don't fit the weight: {plain(known.weighed_ct)} ct of "
                f"{known.material.name} fill {100.0 * filled:.0f} % of their box, a pebble "
                f"{100.0 * low:.0f} to {100.0 * high:.0f} % ({low * per_share:.1f} to "
                f"{high * per_share:.1f} ct): check readings, material and balance"
            )
        return exponent_for(filled)

    def _shape_error_taken(self, shape: float) -> tuple[str, ...]:
        if self.shape_error_mm is not None:
            return ()
        return (
            f"no error of the pebble's shape is stated: {shape:.2f} mm is taken, "
            f"{plain(100.0 * SHAPE_ERROR_SHARE)} % of its least diameter; state it "
            "(shape_error_mm = ...)",
        )


def filled_share(exponent: float) -> float:
    """The share of its box that a superellipsoid fills: Γ(1 + 1/p)³ / Γ(1 + 3/p) (Dirichlet)."""
    from scipy.special import gamma

    return float(gamma(1.0 + 1.0 / exponent) ** 3 / gamma(1.0 + 3.0 / exponent))


def exponent_for(share: float) -> float:
    """The exponent whose superellipsoid fills ``share`` of its box; rises with it."""
    from scipy.optimize import brentq

    return float(
        brentq(lambda p: filled_share(p) - share, LEAST_EXPONENT, MOST_EXPONENT, xtol=1e-12)
    )


def superellipsoid(half: Floats, exponent: float, sagitta_mm: float) -> Mesh:
    """A closed convex mesh with all corners on it; ``half`` (3,) are its half axes, mm."""
    quarter = _quarter(exponent, sagitta_mm / float(half.max()))
    circle = np.vstack([quarter[:-1] @ np.array(turn) for turn in _TURNS])
    out, up = np.concatenate([quarter[1:-1][::-1] * [1.0, -1.0], quarter[:-1]]).T
    rings = np.empty((len(out), len(circle), 3))
    rings[:, :, :2] = out[:, None, None] * circle * half[:2]
    rings[:, :, 2] = up[:, None] * half[2]
    tip = np.array([0.0, 0.0, half[2]])
    return loft(rings, -tip, tip)


_TURNS = [[[1, 0], [0, 1]], [[0, 1], [-1, 0]], [[-1, 0], [0, -1]], [[0, -1], [1, 0]]]


def _quarter(exponent: float, share: float) -> Floats:
    """Points (n, 2) from (1, 0) to (0, 1) on |x|^p + |y|^p = 1, whose chords' middles lie within
    ``share`` of it."""
    sides = 8
    while True:
        turn = np.linspace(0.0, np.pi / 2.0, sides + 1)
        ray = np.column_stack([np.cos(turn), np.sin(turn)])
        ray[[0, -1]] = [[1.0, 0.0], [0.0, 1.0]]
        points = ray / _norm(ray, exponent)[:, None]
        inside = 1.0 - _norm((points[1:] + points[:-1]) / 2.0, exponent)
        if inside.max() <= share or sides >= _MOST_SIDES:
            return np.asarray(points)
        sides *= 2


def _norm(points: Floats, exponent: float) -> Floats:
    return np.asarray(np.sum(np.abs(points) ** exponent, axis=1) ** (1.0 / exponent))


def _shape_note(exponent: float, known: PieceFacts) -> str:
    if known.weighed_ct is None:
        return "taken as an ellipsoid, as no weight is stated"
    kind = "boxier" if exponent > ELLIPSOID else "sharper"
    return (
        f"taken as {kind} than an ellipsoid (exponent {exponent:.2f}, where 2 is an ellipsoid), so "
        f"that it weighs {plain(known.weighed_ct)} ct: the weight is no check on the readings any "
        "more"
    )


def _guess(known: PieceFacts) -> str:
    held = "three diameters and the weight" if known.weighed_ct else "three diameters alone"
    return (
        f"the pebble's shape is a guess from {held}: compare the piece with the plan before you saw"
    )
