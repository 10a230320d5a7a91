"""Demands on what a stone's face shows, near one way that a flat boundary runs through it.

There the figures are smooth in the boundary's direction and offset, so cubics stand for them, and a
climb meets the very look that is ordered, not a box of angles inside it.
"""

from dataclasses import dataclass, replace

import numpy as np

from optimizer.mesh import Floats, Plane, cross
from optimizer.placement.demands import TIE_MM, Demand, RelaxedDemand
from optimizer.placement.situation import Situation

FACE, BALANCE = "% of the face", "of balance"  # units of what a bound asks
POWERS = np.array([(i, j, k) for i in range(4) for j in range(4 - i) for k in range(4 - i - j)])


@dataclass(frozen=True)
class Cubics:
    """Figures of the face as cubics of where the boundary runs, told by q (3,): how far its unit
    normal leans from ``normal`` along each row of ``across``, and its offset less ``offset``.

    normal (3,), across (2, 3)  a right-angled frame of unit vectors, stone frame
    reach (3,)                  how far from 0 each of q may go
    factors (20, f)             of the figures, one row for each of POWERS
    """

    normal: Floats
    across: Floats
    offset: float
    reach: Floats
    factors: Floats

    def at(self, q: Floats) -> tuple[Floats, Floats]:
        """The figures (f,), and how they change with q (f, 3); beyond ``reach`` as at its end."""
        q = np.clip(q, -self.reach, self.reach)
        slopes = [self._sum(q, axis) for axis in range(3)]
        return np.prod(q**POWERS, axis=1) @ self.factors, np.array(slopes).T

    def _sum(self, q: Floats, axis: int) -> Floats:
        fewer = POWERS.copy()
        fewer[:, axis] = np.maximum(fewer[:, axis] - 1, 0)
        slopes: Floats = (POWERS[:, axis] * np.prod(q**fewer, axis=1)) @ self.factors
        return slopes


@dataclass(frozen=True)
class LookBound:
    """``weights`` (f,) · figures must be ``least`` or more; the other two are the bound a ``step``
    looser in ``unit``, FACE or BALANCE."""

    sentence: str
    weights: Floats
    least: float
    loose_weights: Floats
    loose_least: float
    step: float
    unit: str


@dataclass(frozen=True)
class Shown:
    """What the face of a stone must show, near where it lies."""

    near: Cubics
    bounds: tuple[LookBound, ...]

    def demands(self, boundary: Plane) -> tuple[Demand, ...]:
        """On a boundary whose normal points towards the colour asked about."""
        within = InReach(self.bounds[0].sentence, boundary, self.near)
        return (*(ShownDemand(one, boundary, self.near) for one in self.bounds), within)


@dataclass(frozen=True)
class ShownDemand:
    """One bound, as a search sees it."""

    bound: LookBound
    plane: Plane
    near: Cubics

    @property
    def sentence(self) -> str:
        """See Demand."""
        return self.bound.sentence

    def clearance(self, at: Situation) -> float:
        """See Demand; the share to spare × mm for one radian."""
        figures, _ = self.near.at(_boundary_at(at, self.plane, self.near))
        return float(self.bound.weights @ figures - self.bound.least) * at.mm_per_radian

    def rows(self, at: Situation) -> tuple[Floats, Floats]:
        """See Demand."""
        q = _boundary_at(at, self.plane, self.near)
        figures, slopes = self.near.at(q)
        spare = float(self.bound.weights @ figures - self.bound.least)
        return _rows(at, self.plane, self.near, self.bound.weights @ slopes, spare)

    def relaxed(self, mm_per_radian: float, half: float) -> RelaxedDemand:
        """See Demand."""
        own = self.bound
        loose = replace(own, weights=own.loose_weights, least=own.loose_least)
        figures, _ = self.near.at(np.zeros(3))
        more = float((loose.weights - own.weights) @ figures) - (loose.least - own.least)
        return RelaxedDemand(
            replace(self, bound=loose), own.step, own.unit, more * mm_per_radian / own.step
        )


@dataclass(frozen=True)
class InReach:
    """The boundary runs no farther off than the cubics reach."""

    sentence: str
    plane: Plane
    near: Cubics

    def clearance(self, at: Situation) -> float:
        """See Demand."""
        q = _boundary_at(at, self.plane, self.near)
        return float((self.near.reach - np.abs(q)).min()) * at.mm_per_radian

    def rows(self, at: Situation) -> tuple[Floats, Floats]:
        """See Demand."""
        q = _boundary_at(at, self.plane, self.near)
        ends = [
            _rows(at, self.plane, self.near, -sign * np.eye(3)[k], self.near.reach[k] - sign * q[k])
            for k in range(3)
            for sign in (1.0, -1.0)
        ]
        return np.vstack([rows for rows, _ in ends]), np.concatenate([left for _, left in ends])

    def relaxed(self, mm_per_radian: float, half: float) -> RelaxedDemand:
        """See Demand: a hundredth of the reach."""
        wider = replace(self.near, reach=1.01 * self.near.reach)
        return RelaxedDemand(
            replace(self, near=wider), 0.01, "", mm_per_radian * float(self.near.reach.min())
        )


def _boundary_at(at: Situation, plane: Plane, near: Cubics) -> Floats:
    """q (3,) of the boundary at a pose."""
    reach = _reach(at, plane)
    half = float(np.ptp(reach)) / 2.0
    offset = (plane.offset - 0.5 * (reach.max() + reach.min())) / half
    leaning = near.across @ (plane.normal @ at.rotation)
    return np.array([*leaning, offset - near.offset])


def _reach(at: Situation, plane: Plane) -> Floats:
    """How far each corner (k,) lies along the boundary's normal."""
    reach: Floats = at.arms @ plane.normal + plane.normal @ at.translation
    return reach


def _rows(
    at: Situation, plane: Plane, near: Cubics, slope: Floats, spare: float
) -> tuple[Floats, Floats]:
    """Rows that keep ``spare`` + ``slope`` (3,) · δq from falling below 0, × mm for one radian.

    The offset falls as the highest corner or the lowest one rises. So where less offset is worse,
    every corner that may become the highest gets a row, else every one that may be the lowest.
    """
    reach = _reach(at, plane)
    top, bottom = int(np.argmax(reach)), int(np.argmin(reach))
    moves = _moves(at, plane)
    leaning = np.zeros((2, moves.shape[1]))
    leaning[:, 4:7] = -cross(plane.normal, near.across @ at.rotation.T) / at.mm_per_radian
    if slope[2] >= 0.0:
        ties = [(int(k), bottom) for k in np.flatnonzero(reach >= reach[top] - TIE_MM)]
    else:
        ties = [(top, int(k)) for k in np.flatnonzero(reach <= reach[bottom] + TIE_MM)]
    offset = _offset(plane, reach[top], reach[bottom])[0]
    rows, limits = [], []
    for high, low in ties:
        value, by_high, by_low = _offset(plane, reach[high], reach[low])
        shift = by_high * moves[high] + by_low * moves[low]
        rows.append(-at.mm_per_radian * (slope[:2] @ leaning + slope[2] * shift))
        limits.append(at.mm_per_radian * (spare + slope[2] * (value - offset)))
    return np.array(rows), np.array(limits)


def _moves(at: Situation, plane: Plane) -> Floats:
    """How each corner's reach changes with (δσ, δt, θ, δp), (k, 7 + q)."""
    arms, paces = at.arms, at.growing.pace(at.sigma) @ at.rotation.T
    shift = np.broadcast_to(plane.normal, arms.shape)
    turn = cross(arms, plane.normal) / at.mm_per_radian
    slopes = at.shape_slopes(lambda other: _reach(other, plane), len(arms))
    return np.hstack([(paces @ plane.normal)[:, None], shift, turn, slopes])


def _offset(plane: Plane, high: float, low: float) -> tuple[float, float, float]:
    """The boundary's offset between a highest and a lowest corner, and how it changes with each."""
    across, level = high - low, plane.offset
    value = (2.0 * level - high - low) / across
    return value, 2.0 * (low - level) / across**2, 2.0 * (level - high) / across**2
