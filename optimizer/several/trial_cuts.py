"""Trial saw cuts: how a piece could be divided so that each part holds a good stone.

Divisions grow part by part, the best few of each number kept (a beam search). What a part's best
stone is worth is read from the soundings, so that hundreds of cuts a second are judged. The parts
of one division can be sawn from one another by construction.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np

from optimizer.mesh import Floats, Plane
from optimizer.offers.offer import Offer
from optimizer.placement.ground import Ground
from optimizer.placement.search import WORKERS, Watch
from optimizer.placement.workers import workers
from optimizer.several.soundings import RemainingPoses, Sounding, beside, best_of_cuts, whole

EQUAL = (2, 3, 4, 5, 6, 7, 8)  # a trial cut takes off one of so many equal slices, at either end
ALONG = 1.0 - 1e-9  # cosine
SAME = 1e-9  # relative: divisions as good as one another to this are one
MOST_SIZES = 60  # of stones of different sizes: of more, some evenly among them
VALUED = 1e5  # trials that take as long as it takes to value a division
PATIENCE = 3  # more parts without a better division: enough


@dataclass(frozen=True, eq=False)
class TrialPiece:
    """A piece below walls (ground's frame), and what is left of each sounding there."""

    walls: tuple[Plane, ...]
    left: tuple[RemainingPoses, ...]
    surface: Floats  # (n, 3) points of the rough's surface that are still its own
    worths: Floats  # (wishes,) of the best stone of each wish; 0 where none fits


@dataclass(frozen=True, eq=False)
class TrialCut:
    """A trial cut of a part and what the best stones beside it are worth, (2, wishes)."""

    part: TrialPiece
    plane: Plane
    worths: Floats
    slice_mm: float  # from the middle of the kerf to the nearer end of the part's room


@dataclass(frozen=True)
class Saw:
    """Judges trial cuts: their directions (d, 3), and the least distance from the middle of a
    kerf to a stone."""

    soundings: Sequence[Sounding]
    price: Callable[[Offer, float], float]  # worth of a stone by its width
    wishes: int
    directions: Floats
    gap_mm: float
    known: dict[int, tuple[TrialPiece, tuple[TrialCut, ...]]] = field(default_factory=dict)

    def first(self, ground: Ground) -> TrialPiece:
        """The whole rough."""
        return self.part((), tuple(whole(s) for s in self.soundings), ground.coarse)

    def part(
        self, walls: tuple[Plane, ...], left: tuple[RemainingPoses, ...], surface: Floats
    ) -> TrialPiece:
        """A part, its best stones priced."""
        best = [one.widths[0] if len(one.widths) else -np.inf for one in left]
        return TrialPiece(walls, left, surface, self._worths(np.array(best)))

    def below(self, part: TrialPiece, wall: Plane) -> TrialPiece:
        """What a part has below a wall."""
        left = tuple(
            beside(sounding, one, wall.normal, wall.offset)
            for sounding, one in zip(self.soundings, part.left, strict=True)
        )
        surface = part.surface[part.surface @ wall.normal <= wall.offset]
        return self.part((*part.walls, wall), left, surface)

    def _worths(self, widths: Floats) -> Floats:
        worths = np.zeros(self.wishes)
        for sounding, width in zip(self.soundings, widths, strict=True):
            if np.isfinite(width):
                value = self.price(sounding.offer, float(width))
                worths[sounding.wish] = max(worths[sounding.wish], value)
        return worths

    def parts(self, cut: TrialCut) -> tuple[TrialPiece, TrialPiece]:
        """The parts below and above a cut."""
        below, above = (self.below(cut.part, wall) for wall in self._walls(cut.plane))
        return below, above

    def _walls(self, cut: Plane) -> tuple[Plane, Plane]:
        """The walls that a cut leaves below and above it."""
        up = cut.flipped()
        below = Plane(cut.normal, cut.offset - self.gap_mm)
        return below, Plane(up.normal, up.offset - self.gap_mm)

    def cuts(self, part: TrialPiece) -> tuple[TrialCut, ...]:
        """Every trial cut of a part that leaves a stone on each side."""
        if id(part) not in self.known:  # kept with its part, whose id can't come again
            found = (c for n in self.directions for c in self._across(part, n))
            self.known[id(part)] = part, tuple(found)
        return self.known[id(part)][1]

    def trials(self, part: TrialPiece) -> float:
        """How many poses all cuts of a part are held against, at most."""
        cuts = 2 * (len(EQUAL) + len(self._sizes())) * len(self.directions)
        return float(cuts) * sum(len(left.widths) for left in part.left)

    def leave_whole(self, part: TrialPiece) -> None:
        """Try no cut of this part."""
        self.known[id(part)] = part, ()

    def _across(self, part: TrialPiece, normal: Floats) -> list[TrialCut]:
        low, high = self.room(part, normal)
        offsets = self._offsets(low, high)
        if not len(offsets):
            return []
        best = np.array([
            best_of_cuts(sounding, one, normal, offsets, self.gap_mm)
            for sounding, one in zip(self.soundings, part.left, strict=True)
        ])  # fmt: skip
        cuts = []
        for k, offset in enumerate(offsets):
            worths = np.array([self._worths(best[:, k, side]) for side in range(2)])
            if worths.any(axis=1).all():
                slice_mm = float(min(offset - low, high - offset))
                cuts.append(TrialCut(part, Plane(normal, float(offset)), worths, slice_mm))
        return cuts

    def _offsets(self, low: float, high: float) -> Floats:
        """Cuts (k,) that take off one of several equal slices, or one just as thick as a stone of
        the greatest size ordered is long, wide or deep."""
        if not np.isfinite(high - low):
            return np.empty(0)
        slices = (high - low + 2.0 * self.gap_mm) / np.array(EQUAL)
        steps = np.concatenate([slices, self._sizes() + 2.0 * self.gap_mm])
        offsets = np.concatenate([low - self.gap_mm + steps, high + self.gap_mm - steps])
        return np.unique(offsets[(offsets > low) & (offsets < high)].round(9))

    def room(self, part: TrialPiece, normal: Floats) -> tuple[float, float]:
        """Between which heights the stones of a part can lie."""
        skin = min(sounding.skin_mm for sounding in self.soundings)
        low, high = -np.inf, np.inf
        if len(part.surface):
            heights = part.surface @ normal
            low, high = float(heights.min()) + skin, float(heights.max()) - skin
        for wall in part.walls:
            cosine = float(wall.normal @ normal)
            if cosine > ALONG:
                high = min(high, wall.offset)
            elif cosine < -ALONG:
                low = max(low, -wall.offset)
        return low, high

    def _sizes(self) -> Floats:
        """Length, width and depth (s,) of the greatest stones ordered."""
        sizes = [
            (body.length_at(most), most, body.depth_at(most))
            for body, most in (
                (s.offer.want.body, s.offer.want.width_mm[1]) for s in self.soundings
            )
            if np.isfinite(most)
        ]
        different = np.unique(np.round(sizes, 6)) if sizes else np.empty(0)
        if len(different) <= MOST_SIZES:
            return different
        some: Floats = different[np.linspace(0, len(different) - 1, MOST_SIZES).astype(int)]
        return some


Division = tuple[TrialPiece, ...]
Walls = frozenset[tuple[float, ...]]


def divisions(
    saw: Saw,
    whole_part: TrialPiece,
    value: Callable[[Floats], float],
    most: int,
    width: int,
    watch: Watch,
    trials: float,
) -> list[Division]:
    """Good divisions into 1, 2, ... ``most`` parts, ``width`` of each number.

    ``value`` of a division by its parts' worths (parts, wishes). Once as many ``trials`` as these
    are spent, the parts that are left are not cut further.
    """
    last: list[Division] = [(whole_part,)]
    found, best, waited = list(last), value(np.array([whole_part.worths])), 0
    with workers(WORKERS) as pool:
        while len(last[0]) < most and waited < PATIENCE and not watch.stop():
            trials -= _judged(saw, last, trials, pool)
            last, top = _grown(saw, last, value, width)
            if not last:
                break
            waited = 0 if top > best * (1.0 + SAME) else waited + 1
            best = max(best, top)
            found += last
            watch.progress("trying cuts", len(last[0]), most, 0.0)
    return found


def _judged(saw: Saw, last: Sequence[Division], trials: float, pool: ThreadPoolExecutor) -> float:
    """Judge the cuts of all parts of these divisions, as far as ``trials`` go; how many it took.

    The whole rough is judged whatever it takes.
    """
    parts = {id(part): part for division in last for part in division}
    fresh = [part for key, part in parts.items() if key not in saw.known]
    took = np.cumsum([saw.trials(part) for part in fresh])
    within = int((took <= trials).sum()) if len(last[0]) > 1 else len(fresh)
    for part in fresh[within:]:
        saw.leave_whole(part)
    for _ in pool.map(saw.cuts, fresh[:within]):
        pass
    valued = sum(len(saw.cuts(part)) for division in last for part in division)
    return VALUED * valued + (float(took[within - 1]) if within else 0.0)


def _grown(
    saw: Saw, last: Sequence[Division], value: Callable[[Floats], float], width: int
) -> tuple[list[Division], float]:
    """The best divisions with one part more, and the value of the best.

    Of cuts as good as one another the one that takes off the thinnest slice comes first: it leaves
    the most for further stones.
    """
    options: list[tuple[float, float, int, int, TrialCut]] = []
    for d, division in enumerate(last):
        for k, part in enumerate(division):
            others = [p.worths for j, p in enumerate(division) if j != k]
            for cut in saw.cuts(part):
                worth = value(np.array([*others, *cut.worths]))
                options.append((-worth, cut.slice_mm, d, k, cut))
    options.sort(key=lambda option: option[:4])
    made: dict[int, tuple[TrialPiece, TrialPiece]] = {}
    grown: dict[frozenset[Walls], Division] = {}
    children = [0] * len(last)
    for _, _, d, k, cut in options:
        if len(grown) == width:
            break
        if children[d] >= max(2, width // 2):
            continue
        if id(cut) not in made:
            made[id(cut)] = saw.parts(cut)
        division = (*last[d][:k], *made[id(cut)], *last[d][k + 1 :])
        same = frozenset(map(_walls, division))
        if same not in grown:
            grown[same] = division
            children[d] += 1
    return list(grown.values()), -options[0][0] if options else -np.inf


def _walls(part: TrialPiece) -> Walls:
    """What tells a part from others, however its cuts came about."""
    return frozenset((*w.normal.round(6), round(w.offset, 6)) for w in part.walls)
