"""Trial cuts of pieces of the rough, and what the best stones on either side of a cut are worth.

The worths are read from the pose grids, so that hundreds of cuts a second are compared.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from optimizer.mesh import Floats, Plane
from optimizer.offers.offer import Offer
from optimizer.placement.ground import Ground
from optimizer.several.pose_grids import PoseGrid, RemainingPoses

EQUAL = (2, 3, 4, 5, 6, 7, 8)  # a trial cut takes off one of so many equal slices, at either end
ALONG = 1.0 - 1e-9  # cosine
MOST_SIZES = 60  # sizes of stones that cuts are matched to; of more, an even choice


@dataclass(frozen=True, eq=False)
class TrialPiece:
    """A piece of the rough, bounded by walls (ground's frame), and the poses left in it."""

    walls: tuple[Plane, ...]
    left: tuple[RemainingPoses, ...]  # of each grid
    surface: Floats  # (n, 3) points of the rough's surface that the piece still has
    worths: Floats  # (wishes,) of the best stone of each wish; 0 where none fits


@dataclass(frozen=True, eq=False)
class TrialCut:
    """A cut of a piece, and what the best stone of each wish on either side is worth, (2,
    wishes)."""

    piece: TrialPiece
    plane: Plane
    worths: Floats
    slice_mm: float  # from the middle of the kerf to the nearer end of the piece's room


@dataclass(frozen=True)
class CutJudge:
    """Evaluates trial cuts, and remembers those of each piece."""

    grids: Sequence[PoseGrid]
    price: Callable[[Offer, float], float]  # worth of a stone by its width
    wishes: int
    directions: Floats  # (d, 3) normals of the cuts
    gap_mm: float  # least distance from the middle of a kerf to a stone
    known: dict[int, tuple[TrialPiece, tuple[TrialCut, ...]]] = field(default_factory=dict)

    def whole_rough(self, ground: Ground) -> TrialPiece:
        """The whole rough as one piece."""
        return self.piece((), tuple(grid.whole() for grid in self.grids), ground.coarse)

    def piece(
        self, walls: tuple[Plane, ...], left: tuple[RemainingPoses, ...], surface: Floats
    ) -> TrialPiece:
        """A piece with the worths of its best stones."""
        best = [one.widths[0] if len(one.widths) else -np.inf for one in left]
        return TrialPiece(walls, left, surface, self._worths(np.array(best)))

    def below(self, piece: TrialPiece, wall: Plane) -> TrialPiece:
        """What is left of a piece below a wall."""
        left = tuple(
            grid.beside(one, wall.normal, wall.offset)
            for grid, one in zip(self.grids, piece.left, strict=True)
        )
        surface = piece.surface[piece.surface @ wall.normal <= wall.offset]
        return self.piece((*piece.walls, wall), left, surface)

    def _worths(self, widths: Floats) -> Floats:
        worths = np.zeros(self.wishes)
        for grid, width in zip(self.grids, widths, strict=True):
            if np.isfinite(width):
                value = self.price(grid.offer, float(width))
                worths[grid.wish] = max(worths[grid.wish], value)
        return worths

    def pieces(self, cut: TrialCut) -> tuple[TrialPiece, TrialPiece]:
        """The pieces below and above a cut."""
        below, above = (self.below(cut.piece, wall) for wall in self._walls(cut.plane))
        return below, above

    def _walls(self, cut: Plane) -> tuple[Plane, Plane]:
        """The walls that a cut leaves below and above it."""
        up = cut.flipped()
        below = Plane(cut.normal, cut.offset - self.gap_mm)
        return below, Plane(up.normal, up.offset - self.gap_mm)

    def cuts(self, piece: TrialPiece) -> tuple[TrialCut, ...]:
        """Every trial cut of a piece that leaves a stone on each side."""
        if id(piece) not in self.known:  # kept with its piece, so that the id stays unique
            found = (c for n in self.directions for c in self._across(piece, n))
            self.known[id(piece)] = piece, tuple(found)
        return self.known[id(piece)][1]

    def trials(self, piece: TrialPiece) -> float:
        """The work of ``cuts``: how often a pose is compared with a cut, at most."""
        cuts = 2 * (len(EQUAL) + len(self._sizes())) * len(self.directions)
        return float(cuts) * sum(len(left.widths) for left in piece.left)

    def leave_whole(self, piece: TrialPiece) -> None:
        """Try no cut of this piece."""
        self.known[id(piece)] = piece, ()

    def _across(self, piece: TrialPiece, normal: Floats) -> list[TrialCut]:
        low, high = self.room(piece, normal)
        offsets = self._offsets(low, high)
        if not len(offsets):
            return []
        best = np.array([
            grid.best_of_cuts(one, normal, offsets, self.gap_mm)
            for grid, one in zip(self.grids, piece.left, strict=True)
        ])  # fmt: skip
        cuts = []
        for k, offset in enumerate(offsets):
            worths = np.array([self._worths(best[:, k, side]) for side in range(2)])
            if worths.any(axis=1).all():
                slice_mm = float(min(offset - low, high - offset))
                cuts.append(TrialCut(piece, Plane(normal, float(offset)), worths, slice_mm))
        return cuts

    def _offsets(self, low: float, high: float) -> Floats:
        """Offsets (k,) of cuts that take off one of several equal slices, or a slice exactly as
        thick as a stone of the greatest size ordered is long, wide or deep."""
        if not np.isfinite(high - low):
            return np.empty(0)
        slices = (high - low + 2.0 * self.gap_mm) / np.array(EQUAL)
        steps = np.concatenate([slices, self._sizes() + 2.0 * self.gap_mm])
        offsets = np.concatenate([low - self.gap_mm + steps, high + self.gap_mm - steps])
        return np.unique(offsets[(offsets > low) & (offsets < high)].round(9))

    def room(self, piece: TrialPiece, normal: Floats) -> tuple[float, float]:
        """The least and greatest height along ``normal`` that a stone of a piece can reach."""
        skin = min(grid.skin_mm for grid in self.grids)
        low, high = -np.inf, np.inf
        if len(piece.surface):
            heights = piece.surface @ normal
            low, high = float(heights.min()) + skin, float(heights.max()) - skin
        for wall in piece.walls:
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
            for body, most in ((g.offer.want.body, g.offer.want.width_mm[1]) for g in self.grids)
            if np.isfinite(most)
        ]
        different = np.unique(np.round(sizes, 6)) if sizes else np.empty(0)
        if len(different) <= MOST_SIZES:
            return different
        some: Floats = different[np.linspace(0, len(different) - 1, MOST_SIZES).astype(int)]
        return some
