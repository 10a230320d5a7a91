"""Demands on a placement. Each answers one question: its signed clearance, not negative when met.

A demand also gives rows for the search, in the form of ``containers``: row·(δσ, δt, θ, δp)
<= limit, with δp the changes of the design's free parameters.
To add one: write its measure with the gradient, and name it in ``zone_demands`` or beside it.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from optimizer.mesh import Floats, Plane, cross
from optimizer.order import Range, ZoneDemand
from optimizer.placement import slicing
from optimizer.placement.situation import Situation
from optimizer.wording.plain_number import plain

DEGREE = np.radians(1.0)
POLE_DEG = 1.0  # within this of tilt ±90 the azimuth says nothing
SIGMA_STEP = 1e-5  # mm: for the slope of the volume's share with the size
TIE_MM = 0.05  # corners within this of the extreme may become the extreme in the next step


class Demand(Protocol):
    """Something an order asks of the placement."""

    @property
    def sentence(self) -> str:
        """The demand in plain words."""
        ...

    def clearance(self, at: Situation) -> float:
        """Millimetres to spare (degrees and shares turned into mm); negative: not met."""
        ...

    def rows(self, at: Situation) -> tuple[Floats, Floats]:
        """Linearised demand: rows (r, 7 + q) and limits (r,)."""
        ...

    def relaxed(self, mm_per_radian: float, half: float) -> "RelaxedDemand":
        """The demand a step looser; ``half`` is the stone's half extent across a boundary in mm."""
        ...


@dataclass(frozen=True)
class RelaxedDemand:
    """A demand that asks a step less, with the step in the demand's own unit."""

    demand: Demand
    step: float
    unit: str
    per_unit: float  # mm of the demand's clearance, for one unit


def relaxed_by_a_degree(demand: Demand, mm_per_radian: float) -> RelaxedDemand:
    """A demand on an angle that asks a degree less."""
    return RelaxedDemand(demand, 1.0, "°", mm_per_radian * DEGREE)


@dataclass(frozen=True)
class Measure:
    """A figure of the boundary as the stone sees it × mm for one radian, and its gradient (7,)."""

    value: Callable[[Situation, Plane], float]
    gradient: Callable[[Situation, Plane], Floats]


def _tilt(at: Situation, plane: Plane) -> float:
    """In radians."""
    return float(np.arcsin(_sine(at, plane))) * at.mm_per_radian


def _sine(at: Situation, plane: Plane) -> float:
    return min(max(float(plane.normal @ at.rotation[:, 2]), -1.0), 1.0)


def _tilt_gradient(at: Situation, plane: Plane) -> Floats:
    gradient, sine = np.zeros(7), _sine(at, plane)
    across = cross(plane.normal, at.rotation[:, 2])
    gradient[4:] = -across / max(np.sqrt(1.0 - sine * sine), 1e-9)
    return gradient


def _azimuth(at: Situation, plane: Plane) -> float:
    """In radians."""
    a, b = (float(plane.normal @ at.rotation[:, k]) for k in (0, 1))
    return float(np.arctan2(b, a)) * at.mm_per_radian


def _azimuth_gradient(at: Situation, plane: Plane) -> Floats:
    x, y = at.rotation[:, 0], at.rotation[:, 1]
    a, b = float(plane.normal @ x), float(plane.normal @ y)
    gradient = np.zeros(7)
    gradient[4:] = cross(plane.normal, b * x - a * y) / max(a * a + b * b, 1e-18)
    return gradient


def _share_of(at: Situation, plane: Plane) -> float:
    """Of the stone's volume, beyond the boundary."""
    return _share(at, plane, 0.0) * at.mm_per_radian


def _share_gradient(at: Situation, plane: Plane) -> Floats:
    """A small motion v of the stone changes the volume beyond by the section's area times v·n at
    the section's centroid; the growth with σ is taken by differences."""
    _, area, moment = _beyond(at, plane, 0.0)
    whole = at.growing.body.volume_at(at.growing.width(at.sigma))
    arm = moment - area * at.translation
    gradient = np.zeros(7)
    gradient[0] = (_share(at, plane, SIGMA_STEP) - _share(at, plane, -SIGMA_STEP)) / (
        2.0 * SIGMA_STEP
    )
    gradient[1:4] = area / whole * plane.normal
    gradient[4:] = cross(arm, plane.normal) / (whole * at.mm_per_radian)
    return gradient * at.mm_per_radian


def _share(at: Situation, plane: Plane, step: float) -> float:
    whole = at.growing.body.volume_at(at.growing.width(at.sigma + step))
    return _beyond(at, plane, step)[0] / whole


def _beyond(at: Situation, plane: Plane, step: float) -> tuple[float, float, Floats]:
    corners = at.growing.corners(at.sigma + step) @ at.rotation.T + at.translation
    return slicing.beyond(corners, at.growing.body.faces, plane.normal, plane.offset)


tilt = Measure(_tilt, _tilt_gradient)
azimuth = Measure(_azimuth, _azimuth_gradient)
share = Measure(_share_of, _share_gradient)


@dataclass(frozen=True)
class InRange:
    """A measure of the boundary that must lie between two ends (in the measure's own unit)."""

    sentence: str
    plane: Plane
    measure: Measure
    low: float  # radians, or a share
    high: float
    period: float | None = None  # 2π for angles that go round

    def _value(self, at: Situation) -> float:
        value = self.measure.value(at, self.plane)
        if self.period is not None:
            period = self.period * at.mm_per_radian
            middle = 0.5 * (self.low + self.high) * at.mm_per_radian
            value -= period * round((value - middle) / period)
        return value

    def clearance(self, at: Situation) -> float:
        """See Demand."""
        value = self._value(at)
        return min(value - self.low * at.mm_per_radian, self.high * at.mm_per_radian - value)

    def rows(self, at: Situation) -> tuple[Floats, Floats]:
        """See Demand."""
        value = self._value(at)
        slopes = at.shape_slopes(lambda near: np.array([self._value(near)]), 1)
        gradient = np.concatenate([self.measure.gradient(at, self.plane), slopes[0]])
        limits = [self.high * at.mm_per_radian - value, value - self.low * at.mm_per_radian]
        return np.array([gradient, -gradient]), np.array(limits)

    def relaxed(self, mm_per_radian: float, half: float) -> RelaxedDemand:
        """See Demand."""
        if self.measure is share:
            return self._relaxed_share(mm_per_radian)
        wider = replace(self, low=self.low - DEGREE, high=self.high + DEGREE)
        return relaxed_by_a_degree(wider, mm_per_radian)

    def _relaxed_share(self, mm_per_radian: float) -> RelaxedDemand:
        wider = replace(self, low=max(0.0, self.low - 0.01), high=min(1.0, self.high + 0.01))
        return RelaxedDemand(wider, 1.0, "%", mm_per_radian / 100.0)


@dataclass(frozen=True)
class Offset:
    """(c − mid)/half between two ends: where the boundary cuts the stone's extent along n."""

    sentence: str
    plane: Plane
    low: float
    high: float

    def _extent(self, at: Situation) -> tuple[Floats, float]:
        reach = at.arms @ self.plane.normal + self.plane.normal @ at.translation
        return reach, float(reach.max() - reach.min()) / 2.0

    def clearance(self, at: Situation) -> float:
        """See Demand; in mm along the boundary's normal."""
        reach, half = self._extent(at)
        past = self.plane.offset - 0.5 * (reach.max() + reach.min())
        return float(min(past - self.low * half, self.high * half - past))

    def rows(self, at: Situation) -> tuple[Floats, Floats]:
        """See Demand. c <= mid + high·half is c <= p·max + (1−p)·min with p = (1+high)/2, and
        the like for the lower end: the side that could be a new extreme gets a row a corner."""
        reach, _ = self._extent(at)
        top, bottom = int(np.argmax(reach)), int(np.argmin(reach))
        arms, paces = at.arms, at.growing.pace(at.sigma) @ at.rotation.T
        slopes = at.shape_slopes(lambda near: self._extent(near)[0], len(reach))
        motion = np.zeros((len(reach), 7 + slopes.shape[1]))
        motion[:, 0] = paces @ self.plane.normal
        motion[:, 1:4] = self.plane.normal
        motion[:, 4:7] = cross(arms, self.plane.normal) / at.mm_per_radian
        motion[:, 7:] = slopes
        rows, limits = [], []
        p = 0.5 * (1.0 + self.high)
        for k in np.flatnonzero(reach <= reach[bottom] + TIE_MM):
            rows.append(-(p * motion[top] + (1.0 - p) * motion[k]))
            limits.append(p * reach[top] + (1.0 - p) * reach[k] - self.plane.offset)
        p = 0.5 * (1.0 + self.low)
        for k in np.flatnonzero(reach >= reach[top] - TIE_MM):
            rows.append(p * motion[k] + (1.0 - p) * motion[bottom])
            limits.append(self.plane.offset - p * reach[k] - (1.0 - p) * reach[bottom])
        return np.array(rows), np.array(limits)

    def relaxed(self, mm_per_radian: float, half: float) -> RelaxedDemand:
        """See Demand."""
        wider = replace(self, low=max(-1.0, self.low - 0.05), high=min(1.0, self.high + 0.05))
        return RelaxedDemand(wider, 0.05, "", half)


def _numbers(ends: Range, unit: str) -> str:
    return f"{plain(ends[0])} to {plain(ends[1])}{unit}"


def whole_side(zone: ZoneDemand) -> float | None:
    """+1: the stone lies wholly on the colour's side; -1: wholly on the other; None: neither."""
    low, high = zone.share_percent or (0.0, 100.0)
    return 1.0 if low >= 100.0 else -1.0 if high <= 0.0 else None


def zone_demands(zone: ZoneDemand, plane: Plane) -> tuple[Demand, ...]:
    """The order's demands on the boundary ``plane`` (normal towards the named colour), but for
    "not crossed" and shares of 0 and 100 %, which are walls (``place.zone_walls``)."""
    found: list[Demand] = []
    name = f'boundary "{zone.name}"'
    if zone.tilt_deg is not None:
        low, high = np.radians(zone.tilt_deg)
        text = f"{name}: tilt {_numbers(zone.tilt_deg, '°')}"
        found.append(InRange(text, plane, tilt, low, high))
    if zone.azimuth_deg is not None:
        low, high = np.radians(zone.azimuth_deg)
        text = f"{name}: azimuth {_numbers(zone.azimuth_deg, '°')}"
        found.append(InRange(text, plane, azimuth, low, high, 2.0 * np.pi))
    if zone.offset is not None:
        text = f"{name}: offset {_numbers(zone.offset, '')}"
        found.append(Offset(text, plane, *zone.offset))
    if zone.share_percent is not None and whole_side(zone) is None:
        low, high = zone.share_percent
        text = f"{name}: {zone.colour} {_numbers(zone.share_percent, ' %')} of the volume"
        found.append(InRange(text, plane, share, low / 100.0, high / 100.0))
    return tuple(found)
