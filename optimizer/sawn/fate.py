"""What became of the planned stones: whether each still fits as planned beside the new face."""

from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.audit.flaws import gap_to_flaw
from optimizer.mesh import Mesh
from optimizer.rough.model import Flaw
from optimizer.sawing.piece_tree import contains_point
from optimizer.sawn.pieces import SawnPiece
from optimizer.sawn.plan_folder import PlannedStone


@dataclass(frozen=True)
class Fate:
    """A planned stone after the cut."""

    stone: PlannedStone
    piece: SawnPiece  # the piece that holds the stone's middle, or the nearest to it
    gap_mm: float  # from the new face to the stone as planned; negative: sawn into
    needs_mm: float  # the least gap: scan error and clean-up together
    flaws: tuple[str, ...]  # names of flaws on the new face too near to the stone as planned

    @property
    def kept(self) -> bool:
        """Whether the stone still fits as planned."""
        return self.gap_mm >= self.needs_mm and not self.flaws

    @property
    def sentence(self) -> str:
        """What became of the stone, in a plain sentence."""
        name = f"Stone {self.stone.number}, {self.stone.carat:.2f} ct as planned,"
        if self.gap_mm < 0.0:
            return f"{name} is lost: the saw went {-self.gap_mm:.2f} mm into it."
        if self.gap_mm < self.needs_mm:
            return (
                f"{name} is lost: the saw left {self.gap_mm:.2f} mm over it, and it needs "
                f"{self.needs_mm:.2f} mm to be cleaned up."
            )
        if self.flaws:
            return f"{name} is lost: it lies too near to {' and '.join(self.flaws)}."
        return f"{name} still fits as planned, {self.gap_mm:.2f} mm below the new face."


def fates(
    stones: Sequence[PlannedStone],
    pieces: Sequence[SawnPiece],
    marked_flaws: Sequence[Flaw],
    needs_mm: float,
) -> tuple[Fate, ...]:
    """The fate of each stone that was planned in the piece before the cut."""
    return tuple(_fate(stone, pieces, marked_flaws, needs_mm) for stone in stones)


def _fate(
    stone: PlannedStone, pieces: Sequence[SawnPiece], marked_flaws: Sequence[Flaw], needs_mm: float
) -> Fate:
    piece = _home(stone.mesh, pieces)
    gap = float(piece.face.offset - (stone.mesh.vertices @ piece.face.normal).max())
    near = tuple(f'"{f.name}"' for f in marked_flaws if gap_to_flaw(stone.mesh, f) < f.clearance_mm)
    return Fate(stone, piece, gap, needs_mm, near)


def _home(stone: Mesh, pieces: Sequence[SawnPiece]) -> SawnPiece:
    """The piece that holds the stone's middle. Where the kerf took the middle, it is the heaviest
    piece on the side of the new face that the middle lies on."""
    middle = stone.vertices.mean(axis=0)
    for piece in pieces:
        if contains_point(piece.rough.mesh, middle):
            return piece
    below = next(piece for piece in pieces if piece.side == "below").face
    side = "below" if float(below.normal @ middle) < below.offset else "above"
    return max((p for p in pieces if p.side == side), key=lambda p: p.rough.carat)
