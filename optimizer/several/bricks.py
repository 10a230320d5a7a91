"""Brick divisions: the rough sliced into layers, the layers into rows, the rows into stones.

Stones of a greatest size ordered lie in a piece as bricks do, and each slice is exactly as thick as
the stone is long, wide or deep. All orders of these three are tried, one after another.
"""

from collections.abc import Iterator, Sequence
from itertools import permutations

import numpy as np

from optimizer.mesh import Floats, Plane
from optimizer.several.pose_grids import RemainingPoses
from optimizer.several.trial_cuts import CutJudge, TrialPiece
from optimizer.several.trial_divisions import TrialDivision

ROUNDING = 1e-9  # mm: a slice that is this much too thick still fits
ALONG = 1.0 - 1e-9  # cosine


def brick_divisions(
    judge: CutJudge, whole_rough: TrialPiece, frames: Sequence[Floats]
) -> Iterator[tuple[int, TrialDivision]]:
    """Divisions into bricks, each for the stones of one grid, with the grid's index. The rows of
    ``frames`` (3, 3) are the directions of slices, ground's frame."""
    for number, grid in enumerate(judge.grids):
        want = grid.offer.want
        if not np.isfinite(want.width_mm[1]):
            continue
        size = np.ptp(want.body.vertices_at(want.width_mm[1]), axis=0)
        for frame in frames:
            tried: set[tuple[float, ...]] = set()
            for order in permutations(range(3)):
                thick = size[list(order)]
                if tuple(thick.round(6)) in tried:
                    continue
                tried.add(tuple(thick.round(6)))
                piece = _with_square_poses(judge, whole_rough, number, frame)
                for spread in (True, False):
                    pieces = _bricks(judge, [piece], frame, thick, spread)
                    if pieces:
                        yield number, tuple(pieces)


def _bricks(
    judge: CutJudge, pieces: list[TrialPiece], frame: Floats, thick: Floats, spread: bool
) -> list[TrialPiece]:
    """The pieces sliced along each direction of the frame, one after another."""
    for normal, mm in zip(frame, thick, strict=True):
        pieces = [
            one for piece in pieces for one in _slices(judge, piece, normal, float(mm), spread)
        ]
    return pieces


def _slices(
    judge: CutJudge, piece: TrialPiece, normal: Floats, mm: float, spread: bool
) -> list[TrialPiece]:
    """As many slices ``mm`` thick as there is room for between their cuts: evenly spread, or
    packed from the low end."""
    low, high = judge.room(piece, normal)
    pitch = mm + 2.0 * judge.gap_mm
    if not np.isfinite(high - low):
        return []
    count = int((high - low + 2.0 * judge.gap_mm + ROUNDING) // pitch)
    if not count:
        return []
    slack = (high - low + 2.0 * judge.gap_mm) / count - pitch if spread else 0.0
    starts = low + (pitch + max(slack, 0.0)) * np.arange(count)
    made = (_between(judge, piece, normal, s, s + mm + max(slack, 0.0)) for s in starts)
    return [one for one in made if any(len(left.widths) for left in one.left)]


def _between(
    judge: CutJudge, piece: TrialPiece, normal: Floats, low: float, high: float
) -> TrialPiece:
    """The piece between two parallel walls."""
    for wall in (Plane(normal, high), Plane(-normal, -low)):
        piece = judge.below(piece, wall)
    return piece


def _with_square_poses(
    judge: CutJudge, piece: TrialPiece, number: int, frame: Floats
) -> TrialPiece:
    """The piece with only those poses of one grid that lie square to a frame."""
    left = [RemainingPoses(one.poses[:0], one.widths[:0]) for one in piece.left]
    grid, own = judge.grids[number], piece.left[number]
    turned = np.abs(frame @ grid.task.rotations)
    square = (turned.max(axis=1) > ALONG).all(axis=1)
    kept = square[grid.rotations[own.poses]]
    left[number] = RemainingPoses(own.poses[kept], own.widths[kept])
    return judge.piece(piece.walls, tuple(left), piece.surface)
