"""Whether pieces, cuts, stones and offcuts fit together."""

from collections.abc import Sequence

from optimizer.documents.sawing import CutRecord, OffcutRecord, PieceRecord
from optimizer.documents.stones import StoneRecord


def check_tree(
    pieces: Sequence[PieceRecord],
    cuts: Sequence[CutRecord],
    stones: Sequence[StoneRecord],
    offcuts: Sequence[OffcutRecord],
) -> None:
    """Raises ValueError where a cut goes through a piece that no earlier cut leaves, where pieces
    and cuts disagree, or where a stone or offcut lies in a piece that is not listed."""
    if [piece.id for piece in pieces] != list(range(len(pieces))):
        raise ValueError("must number its pieces from 0, in order")
    left = _left_by(cuts)
    if {piece.id: (piece.from_cut, piece.side) for piece in pieces} != left:
        raise ValueError("has pieces other than those that its cuts leave")
    homes = [stone.piece for stone in stones] + [offcut.piece for offcut in offcuts]
    if not left.keys() >= set(homes):
        raise ValueError(f"has a stone or offcut in piece {max(homes)}, which no cut leaves")
    flats = [stone.guidance.dopping_flat.sawn_by for stone in stones if stone.guidance]
    if max((flat for flat in flats if flat is not None), default=-1) >= len(cuts):
        raise ValueError("has a dopping flat that no cut leaves")


Origin = tuple[int | None, str | None]


def _left_by(cuts: Sequence[CutRecord]) -> dict[int, Origin]:
    """The cut and the side that each piece comes from; (None, None) for the rough, piece 0."""
    left: dict[int, Origin] = {0: (None, None)}
    sawn: set[int] = set()
    for number, cut in enumerate(cuts):
        if cut.piece in sawn or cut.piece not in left:
            raise ValueError(
                f"saws piece {cut.piece} in cut {number + 1}, but no earlier cut leaves it whole"
            )
        sawn.add(cut.piece)
        for side, pieces in (("below", cut.below), ("above", cut.above)):
            for piece in pieces:
                if piece in left:
                    raise ValueError(f"has piece {piece} come from two places")
                left[piece] = (number, side)
    return left
