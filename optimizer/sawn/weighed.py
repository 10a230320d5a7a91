"""The pieces' weights on the balance, compared with their volumes."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from optimizer.errors import InputError
from optimizer.rough.scale.weighing import Weighing, is_doubtful, is_out_of_reach, weighing_of
from optimizer.sawn.pieces import CutResult, SawnPiece
from optimizer.sawn.plan_folder import PlannedCut


def with_weights(
    result: CutResult,
    planned: PlannedCut,
    weights_ct: Mapping[int, float],
    error_ct: float | None,
    where: str,
) -> tuple[tuple[SawnPiece, ...], tuple[str, ...]]:
    """The pieces with their weights, and warnings where scan, balance and SG don't explain the
    difference from the volume. Raises InputError where the difference is so large that the cut or
    the piece must be another."""
    pieces, warnings = result.pieces, []
    for number, carat in weights_ct.items():
        mine = [piece for piece in pieces if piece.planned_piece == number]
        if planned.side_of(number) is None or not mine:
            has = " and ".join(str(p.planned_piece) for p in pieces)
            raise InputError(f"{where}: weights_ct: piece {number} is not left by this cut ({has})")
        if len(mine) > 1:
            raise InputError(
                f"{where}: weights_ct: the cut leaves {len(mine)} lumps where piece {number} was "
                "planned; leave its weight out, and weigh them when you plan them"
            )
        weighed = replace(mine[0].rough, weighed_ct=carat, weighed_error_ct=error_ct)
        weighing = weighing_of(weighed)
        assert weighing is not None
        if is_doubtful(weighing):
            message = _apart(mine[0], weighing, result)
            if is_out_of_reach(weighing):
                raise InputError(
                    f"{where}: {message}; no error of model or balance is that large: check the "
                    "cut, the distances and the weight"
                )
            warnings.append(f"{message}.")
        pieces = tuple(replace(p, rough=weighed) if p is mine[0] else p for p in pieces)
    return pieces, tuple(warnings)


def sum_line(result: CutResult, weights_ct: Sequence[float]) -> str:
    """A sentence on the weight that the cut took, where all pieces were weighed."""
    left = result.before_ct - sum(weights_ct)
    return (
        f"On the balance the pieces weigh {sum(weights_ct):.2f} ct of {result.before_ct:.2f} ct "
        f"before the cut by volume: {left:.2f} ct are gone."
    )


def _apart(piece: SawnPiece, weighing: Weighing, result: CutResult) -> str:
    """In words: the difference, and where the cut would have to lie to explain it."""
    more = weighing.by_volume_ct - weighing.weighed_ct
    text = (
        f"Piece {piece.planned_piece} weighs {weighing.weighed_ct:.2f} ct and by its volume "
        f"{weighing.by_volume_ct:.2f} ct with the cut as given, "
        f"{100.0 * abs(weighing.difference):.1f} % {'more' if more > 0.0 else 'less'}; model, "
        f"balance and SG leave {100.0 * abs(weighing.unexplained):.1f} % unexplained"
    )
    if result.section_mm2 > 0.0:
        by_mm = abs(more) * 200.0 / weighing.sg / result.section_mm2
        way = "nearer to its middle" if more > 0.0 else "farther from its middle"
        text += f". With the cut {by_mm:.2f} mm {way} the two would agree"
    return text
