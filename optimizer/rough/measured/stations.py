"""The shape of a piece between the stations at which it was measured."""

from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats

_LEAST_MM = 1e-6  # a smaller waist is a rounding error


@dataclass(frozen=True)
class Profile:
    """Half sizes ``half`` (k, q) mm at places ``at`` (k,) mm, straight from place to place."""

    at: Floats
    half: Floats
    bulge_mm: float  # how far the curve through the readings runs outside
    waist_mm: float  # how far straight lines from station to station would have run outside it


def between_stations(at: Floats, half: Floats) -> Profile:
    """The profile through stations ``at`` (k,), ``half`` (k, q), which lies inside the curve that
    their readings suggest.

    A curve of second derivative c runs off its chord by h²·c/8 over a distance h; c is taken from
    second differences of the readings, the worse of both ends of each distance. Where the curve
    bulges the chord lies inside. Where it is waisted the profile follows its tangents, which meet
    midway at twice that depth; but it is nowhere narrower than the narrower of both stations.
    """
    bend = _second_derivative(at, half)
    steps = np.diff(at)[:, None] ** 2 / 8.0
    waist = steps * np.maximum(np.maximum(bend[:-1], bend[1:]), 0.0)
    bulge = steps * np.maximum(np.maximum(-bend[:-1], -bend[1:]), 0.0)
    columns = [_drawn_in(at, column, depth) for column, depth in zip(half.T, waist.T, strict=True)]
    places = np.unique(np.concatenate([column[0] for column in columns]))
    return Profile(
        places,
        np.column_stack([np.interp(places, *column) for column in columns]),
        float(bulge.max()),
        float(np.minimum(waist, np.abs(np.diff(half, axis=0))).max()),
    )


def _drawn_in(at: Floats, half: Floats, waist: Floats) -> tuple[Floats, Floats]:
    """Places and half sizes of one column, with a place added in each waisted distance: on the
    wider station's tangent, where it meets the other one's or comes down to the narrower station.
    """
    one, other = half[:-1], half[1:]
    wide, narrow = np.maximum(one, other), np.minimum(one, other)
    deep = (one + other) / 2.0 - 2.0 * waist
    level = np.maximum(deep, narrow)
    added = np.flatnonzero((waist > _LEAST_MM) & (wide - narrow > _LEAST_MM))
    share = ((wide - level)[added] / (wide - deep)[added]) / 2.0
    share = np.where((one > other)[added], share, 1.0 - share)
    where = at[added] + share * np.diff(at)[added]
    return np.insert(at, added + 1, where), np.insert(half, added + 1, level[added])


def changing_evenly(profile: Profile, step: float) -> tuple[Floats, Floats]:
    """(at, half) of the same profile with places added where its two half sizes change their ratio,
    so that its logarithm changes by no more than ``step`` from place to place.

    Between rings of different shape the skin is no plane; where the ratio changes by less than a
    side's angle, it runs inside by no more than about the side itself does.
    """
    places = [profile.at]
    for low, high, one, other in zip(
        profile.at, profile.at[1:], profile.half, profile.half[1:], strict=False
    ):
        first, last = np.log(one[0] / one[1]), np.log(other[0] / other[1])
        ratio = np.exp(np.linspace(first, last, int(np.ceil(abs(last - first) / step)) + 1)[1:-1])
        change = other - one
        share = (ratio * one[1] - one[0]) / (change[0] - ratio * change[1])
        places.append(low + share * (high - low))
    at = np.unique(np.concatenate(places))
    return at, np.column_stack([np.interp(at, profile.at, half) for half in profile.half.T])


def _second_derivative(at: Floats, half: Floats) -> Floats:
    """By divided differences at each station, (k, q); an end takes its neighbour's, two stations
    have none."""
    if len(at) < 3:
        return np.zeros_like(half)
    slope = np.diff(half, axis=0) / np.diff(at)[:, None]
    inner = 2.0 * np.diff(slope, axis=0) / (at[2:] - at[:-2])[:, None]
    return np.asarray(np.vstack([inner[:1], inner, inner[-1:]]))
