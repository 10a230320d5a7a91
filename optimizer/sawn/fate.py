"""What became of the planned stones: whether each still fits as planned beside the new face."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from optimizer.audit.flaws import gap_to_flaw
from optimizer.mesh import Mesh
from optimizer.plan_model import Plan, Stone
from optimizer.rough.model import Flaw
from optimizer.sawing.piece_tree import contains_point
from optimizer.sawn.pieces import SawnPiece
from optimizer.sawn.plan_folder import PlannedStone

SAME_CARAT = 0.005  # of its weight: a stone that loses less only moved (our own choice)

Outcome = Literal["as planned", "moved", "smaller", "other design", "lost"]


@dataclass(frozen=True)
class Fate:
    """A planned stone after the cut."""

    stone: PlannedStone
    piece: SawnPiece  # the piece that holds the stone's middle, or the nearest to it
    gap_mm: float  # from the new face to the stone as planned; negative: sawn into
    needs_mm: float  # the least gap: scan error and clean-up together
    flaws: tuple[str, ...]  # names of flaws on the new face too near to the stone as planned
    successor: Stone | None = None  # the stone of the new plan in its place, where it was not kept

    @property
    def kept(self) -> bool:
        """Whether the stone still fits as planned."""
        return self.gap_mm >= self.needs_mm and not self.flaws

    @property
    def outcome(self) -> Outcome:
        """What became of the stone, in a word or two."""
        if self.kept:
            return "as planned"
        if self.successor is None:
            return "lost"
        if self.successor.design.name != self.stone.design:
            return "other design"
        same = self.successor.carat >= (1.0 - SAME_CARAT) * self.stone.carat
        return "moved" if same else "smaller"

    @property
    def sentence(self) -> str:
        """What became of the stone, in a plain sentence."""
        name = f"Stone {self.stone.number}, {self.stone.carat:.2f} ct as planned,"
        if self.kept:
            return f"{name} still fits as planned, {self.gap_mm:.2f} mm below the new face."
        if self.successor is None:
            return f"{name} is lost: {self._cause}."
        weight = f"{self.successor.carat:.2f} ct"
        new = {
            "moved": f"elsewhere in its piece it still comes out, at {weight}",
            "smaller": f"a smaller one of {weight} takes its place",
            "other design": f"a {self.successor.design.title} of {weight} takes its place",
        }[self.outcome]
        return f"{name} no longer fits where it was planned, but {new}: {self._cause}."

    @property
    def _cause(self) -> str:
        """Why the stone no longer fits where it was planned."""
        if self.gap_mm < 0.0:
            return f"the saw went {-self.gap_mm:.2f} mm into it"
        if self.gap_mm < self.needs_mm:
            return (
                f"the saw left {self.gap_mm:.2f} mm over it, and it needs {self.needs_mm:.2f} mm "
                "to be cleaned up"
            )
        return f"it lies too near to {' and '.join(self.flaws)}"


def fates(
    stones: Sequence[PlannedStone],
    pieces: Sequence[SawnPiece],
    marked_flaws: Sequence[Flaw],
    needs_mm: float,
) -> tuple[Fate, ...]:
    """The fate of each stone that was planned in the piece before the cut."""
    return tuple(_fate(stone, pieces, marked_flaws, needs_mm) for stone in stones)


def with_successors(
    fates: Sequence[Fate], plans: Sequence[tuple[SawnPiece, Plan]]
) -> tuple[Fate, ...]:
    """The fates, each stone that no longer fits as planned with the stone that a new plan of its
    piece has in its place: of the same wanted entry, where the order has such, and of the same
    design, where there is one. Kept stones take theirs first, the heaviest before the others."""
    left = {id(piece): list(plan.stones) for piece, plan in plans}
    taken: dict[int, Stone | None] = {}
    for fate in sorted(fates, key=lambda fate: (not fate.kept, -fate.stone.carat)):
        stones = left.get(id(fate.piece), [])
        mine = [s for s in stones if s.wanted in ("", fate.stone.wanted)]
        taken[fate.stone.number] = new = _nearest(fate.stone, mine)
        left[id(fate.piece)] = [s for s in stones if s is not new]
    return tuple(
        fate if fate.kept else replace(fate, successor=taken[fate.stone.number]) for fate in fates
    )


def _nearest(stone: PlannedStone, stones: Sequence[Stone]) -> Stone | None:
    """The stone of the same design if there is one, and of these the nearest in weight."""
    return min(
        stones,
        key=lambda s: (s.design.name != stone.design, abs(s.carat - stone.carat)),
        default=None,
    )


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
