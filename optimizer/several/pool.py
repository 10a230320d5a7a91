"""Candidates for a plan of several stones: many good placements of many designs, of many sizes."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats, even_directions
from optimizer.offers.offer import Offer
from optimizer.order import Workshop
from optimizer.placement.ground import Ground
from optimizer.placement.search import WORKERS, Watch
from optimizer.placement.workers import workers
from optimizer.rough.model import Rough
from optimizer.several.candidates import candidates, distinct
from optimizer.several.model import Candidate, Wish, allowance_mm
from optimizer.several.rows import rows_of
from optimizer.several.shared_work import share_of
from optimizer.several.soundings import Sounding, sound
from optimizer.several.trial_cuts import ALONG, Division, Saw, TrialPiece, divisions
from optimizer.several.twins import twins
from optimizer.several.worth import Worth
from optimizer.solid import plane_frame

MOST_PARTS = 48  # more parts than this are not tried
FRAMES = 3  # of the rough's flats, to which stones are laid square
APART_DEG = 12.0  # two directions of cuts closer than this are one
NEEDED = 1e3  # a stone that an order can't do without counts as so many of the best


@dataclass(frozen=True)
class PoolBudget:
    """The pool's work."""

    rotations: int  # of each offer's soundings
    centres: int
    directions: int  # of trial cuts
    width: int  # divisions kept of each number of parts
    trials: float  # poses that trial cuts are held against, each cut and each pose counted once
    laid: int  # offers laid in parts


# A plan of five stones takes a fiftieth of the trials of its effort, one of many kinds all of them.
BUDGETS = {
    "quick": PoolBudget(100, 500, 7, 3, 4e9, 1000),
    "normal": PoolBudget(200, 1000, 13, 6, 4e10, 4000),
    "thorough": PoolBudget(400, 2000, 25, 16, 4e11, 16_000),
}
LEAST_ROTATIONS = 24  # of each of very many offers


def pool(
    rough: Rough,
    ground: Ground,
    soundings: Sequence[Sounding],
    wishes: Sequence[Wish],
    worth: Worth,
    workshop: Workshop,
    *,
    effort: str,
    watch: Watch,
) -> tuple[Candidate, ...]:
    """Candidates of every wish, each exact in the rough, most worth first.

    They are the best stones in the parts of many trial divisions of the rough by saw cuts, so that
    good sets of stones that can be sawn apart are among them; ``soundings`` (``soundings_of`` with
    the same effort) tell which. The same input gives the same
    candidates whatever the number of workers; a stop leaves those found.
    """
    budget, most = BUDGETS[effort], _most(wishes)

    def price(offer: Offer, width: float) -> float:
        carat = offer.want.body.volume_at(width) * rough.material.sg / 200.0
        return worth.of(offer.design, carat)

    if not soundings:
        return ()
    saw = Saw(
        soundings, price, len(wishes), _directions(_flats(rough, ground), budget.directions),
        allowance_mm(workshop),
    )  # fmt: skip
    first, value = saw.first(ground), _value(wishes, worth)
    found = divisions(saw, first, value, most, budget.width, watch, budget.trials)
    found += _rows(saw, first, value, _frames(rough, ground), budget.width)
    parts: dict[int, TrialPiece] = {id(part): part for division in found for part in division}
    laid = candidates(ground, soundings, tuple(parts.values()), price, watch, budget.laid)
    return enlarged(laid, twins(ground, laid, wishes, 2.0 * allowance_mm(workshop), price))


def enlarged(found: Sequence[Candidate], more: Sequence[Candidate]) -> tuple[Candidate, ...]:
    """The pool with more candidates, those left out that lie as others do."""
    return distinct([*found, *more])


def _most(wishes: Sequence[Wish]) -> int:
    return min(sum(wish.most for wish in wishes), MOST_PARTS)


def soundings_of(
    rough: Rough, ground: Ground, wishes: Sequence[Wish], *, effort: str, seed: int, watch: Watch
) -> tuple[Sounding, ...]:
    """How large the stones of every offer can be at very many poses in the whole rough."""
    budget, most, frames = BUDGETS[effort], _most(wishes), _frames(rough, ground)
    jobs = [(number, offer) for number, wish in enumerate(wishes) for offer in wish.offers]
    rotations = share_of(budget.rotations, len(jobs), LEAST_ROTATIONS)

    def one(job: tuple[int, Offer]) -> Sounding | None:
        if watch.stop():
            return None
        return sound(
            ground, *job, parts=most, rotations=rotations, centres=budget.centres,
            frames=frames, seed=seed,
        )  # fmt: skip

    made: list[Sounding] = []
    with workers(WORKERS) as threads:
        for done, sounding in enumerate(threads.map(one, jobs), 1):
            if sounding is not None and len(sounding.widths):
                made.append(sounding)
            watch.progress("sounding", done, len(jobs), 0.0)
    return tuple(made)


def _flats(rough: Rough, ground: Ground) -> list[Floats]:
    """Normals (3,) of the rough's flats, ground's frame."""
    return [face.plane.normal @ ground.ground2scan for face in rough.reference_faces]


def _frames(rough: Rough, ground: Ground) -> list[Floats]:
    """Frames (3, 3), rows unit, to which stones are laid square: the rough's own axes, and those of
    its largest flats that lie otherwise. The same axes twice would crowd out other rows."""
    frames = [np.eye(3)]
    for flat in _flats(rough, ground)[:FRAMES]:
        frame = plane_frame(flat, np.eye(3)[0])
        if not any((np.abs(frame @ other.T).max(axis=1) > ALONG).all() for other in frames):
            frames.append(frame)
    return frames


def _rows(
    saw: Saw,
    first: TrialPiece,
    value: Callable[[Floats], float],
    frames: Sequence[Floats],
    width: int,
) -> list[Division]:
    """Of the divisions into rows the best few of each wish."""
    kept: list[Division] = []
    ranked = sorted(
        ((value(np.array([part.worths for part in division])), number, division)
         for number, division in rows_of(saw, first, frames)),
        key=lambda one: -one[0],
    )  # fmt: skip
    counts = [0] * saw.wishes
    for _, number, division in ranked:
        wish = saw.soundings[number].wish
        if counts[wish] < width:
            counts[wish] += 1
            kept.append(division)
    return kept


def _directions(flats: Sequence[Floats], count: int) -> Floats:
    """Directions of trial cuts (d, 3), ground's frame: its own axes, square to the rough's flats,
    then others evenly."""
    even = even_directions(4 * count)
    chosen: list[Floats] = []
    for normal in [*np.eye(3), *flats, *even]:
        near = [abs(float(normal @ other)) for other in chosen]
        if len(chosen) < count and max(near, default=0.0) < np.cos(np.radians(APART_DEG)):
            chosen.append(np.asarray(normal, float))
    return np.array(chosen)


def _value(wishes: Sequence[Wish], worth: Worth) -> Callable[[Floats], float]:
    """What a division is worth by its parts' best stones, each wish within its count."""

    def value(worths: Floats) -> float:
        from scipy.optimize import linear_sum_assignment

        parts = len(worths)
        if all(wish.most >= parts and wish.least == 0 for wish in wishes):
            best = worths.max(axis=1)
        else:
            needed = NEEDED * float(worths.max())
            columns = [
                worths[:, w] + np.where(worths[:, w] > 0.0, needed * (k < wish.least), 0.0)
                for w, wish in enumerate(wishes)
                for k in range(min(wish.most, parts))
            ]
            table = np.array(columns).T
            best = table[linear_sum_assignment(table, maximize=True)]
        return float(best.sum()) - worth.cut * (parts - 1)

    return value
