"""What a real cut changed, in plain sentences for the terminal."""

from collections.abc import Iterator
from itertools import chain

from optimizer.report.figures import total_carat
from optimizer.report.summary import TYPED
from optimizer.report.words import size
from optimizer.sawn.pieces import SawnPiece
from optimizer.sawn.replan import SawnReport
from optimizer.trade.materials import cautions_for


def sawn_lines(sawn: SawnReport) -> list[str]:
    """The lines for the terminal: the cut, its pieces, each stone's fate, and the new plans."""
    groups: list[list[str]] = [
        list(sawn.notes) + [piece_line(piece) for piece in sawn.result.pieces],
        [fate.sentence for fate in sawn.fates],
        list(chain.from_iterable(plan_lines(sawn, piece) for piece, _ in sawn.plans)),
        [f"Warning: {text}" for text in _warnings(sawn)],
        [f"Caution: {text}" for text in cautions_for(sawn.plan.rough.material)],
    ]
    lines: list[str] = []
    for group in groups:
        lines += (["", *group] if lines else group) if group else []
    return [line.translate(TYPED) for line in lines]


def piece_line(piece: SawnPiece) -> str:
    """A line on a piece that the cut left, with its number here and in the plan."""
    weighed = piece.rough.weighed_ct
    scale = "" if weighed is None else f", on the balance {weighed:.2f} ct"
    return (
        f"Piece {piece.number:02d} (the plan's piece {piece.planned_piece}): "
        f"{piece.rough.carat:.2f} ct by volume{scale}."
    )


def plan_lines(sawn: SawnReport, piece: SawnPiece) -> Iterator[str]:
    """Lines that compare the new plan of a piece with the old one."""
    plan = next(plan for one, plan in sawn.plans if one is piece)
    mine = [fate for fate in sawn.fates if fate.piece is piece]
    before = sum(fate.stone.carat for fate in mine)
    name = f"Piece {piece.number:02d}"
    if not plan.stones:
        yield (f"{name}: no stone of the order fits in it any more; {before:.2f} ct were planned.")
    for stone in plan.stones:
        yield f"{name}: {stone.design.title}, {size(stone)}, {stone.carat:.2f} ct."
    after = total_carat(plan)
    if plan.stones:
        yield f"{name}: {before:.2f} ct were planned in it, {after:.2f} ct are now."
    if mine and all(fate.kept for fate in mine) and after < before:
        yield (
            f"{name}: the stones as they were planned still fit and are heavier by "
            f"{before - after:.2f} ct: keep to the old plan, or plan with more --effort."
        )


def _warnings(sawn: SawnReport) -> Iterator[str]:
    """The warnings of the cut, then those of the new plans, each once."""
    of_plans = chain.from_iterable(plan.warnings for _, plan in sawn.plans)
    yield from dict.fromkeys((*sawn.warnings, *of_plans))
