"""Rows of stones of one size: the rough sliced into layers, layers into rows, rows into stones.

Stones of a greatest size ordered lie square in a piece as bricks do, each slice just as thick as
the stone is long, wide or deep. One after another, every way round is tried.
"""

from collections.abc import Iterator, Sequence
from itertools import permutations

import numpy as np

from optimizer.mesh import Floats, Plane
from optimizer.several.soundings import RemainingPoses
from optimizer.several.trial_cuts import Division, Saw, TrialPiece

ROUNDING = 1e-9  # mm: a slice that is this much too thick still fits
ALONG = 1.0 - 1e-9  # cosine


def rows_of(
    saw: Saw, whole_part: TrialPiece, frames: Sequence[Floats]
) -> Iterator[tuple[int, Division]]:
    """Divisions into bricks, each for one sounding, with its number. ``frames`` (3, 3): rows are
    the directions of slices, ground's frame."""
    for number, sounding in enumerate(saw.soundings):
        want = sounding.offer.want
        if not np.isfinite(want.width_mm[1]):
            continue
        size = np.ptp(want.body.vertices_at(want.width_mm[1]), axis=0)
        for frame in frames:
            seen: set[tuple[float, ...]] = set()
            for order in permutations(range(3)):
                thick = size[list(order)]
                if tuple(thick.round(6)) in seen:
                    continue
                seen.add(tuple(thick.round(6)))
                part = _square(saw, whole_part, number, frame)
                for spread in (True, False):
                    parts = _bricks(saw, [part], frame, thick, spread)
                    if parts:
                        yield number, tuple(parts)


def _bricks(
    saw: Saw, parts: list[TrialPiece], frame: Floats, thick: Floats, spread: bool
) -> list[TrialPiece]:
    """Sliced along each direction of the frame, one after another."""
    for normal, mm in zip(frame, thick, strict=True):
        parts = [one for part in parts for one in _slices(saw, part, normal, float(mm), spread)]
    return parts


def _slices(
    saw: Saw, part: TrialPiece, normal: Floats, mm: float, spread: bool
) -> list[TrialPiece]:
    """As many slices ``mm`` thick as there is room for, apart by their cuts: spread evenly, or
    from the low end on."""
    low, high = saw.room(part, normal)
    pitch = mm + 2.0 * saw.gap_mm
    if not np.isfinite(high - low):
        return []
    count = int((high - low + 2.0 * saw.gap_mm + ROUNDING) // pitch)
    if not count:
        return []
    slack = (high - low + 2.0 * saw.gap_mm) / count - pitch if spread else 0.0
    starts = low + (pitch + max(slack, 0.0)) * np.arange(count)
    made = (_between(saw, part, normal, s, s + mm + max(slack, 0.0)) for s in starts)
    return [one for one in made if any(len(left.widths) for left in one.left)]


def _between(saw: Saw, part: TrialPiece, normal: Floats, low: float, high: float) -> TrialPiece:
    """What lies between two walls."""
    for wall in (Plane(normal, high), Plane(-normal, -low)):
        part = saw.below(part, wall)
    return part


def _square(saw: Saw, part: TrialPiece, number: int, frame: Floats) -> TrialPiece:
    """The part with nothing left but one sounding's poses that lie square to a frame."""
    left = [RemainingPoses(one.poses[:0], one.widths[:0]) for one in part.left]
    sounding, own = saw.soundings[number], part.left[number]
    turned = np.abs(frame @ sounding.task.rotations)
    square = (turned.max(axis=1) > ALONG).all(axis=1)
    kept = square[sounding.turns[own.poses]]
    left[number] = RemainingPoses(own.poses[kept], own.widths[kept])
    return saw.part(part.walls, tuple(left), part.surface)
