"""Kept offcuts and the balance of weights, in plain sentences."""

import math
from collections.abc import Iterator, Sequence

from optimizer.mesh import volume
from optimizer.plan_model import Plan
from optimizer.report.html import carats
from optimizer.sawing.model import Fitting, Offcut


def balance_line(plan: Plan) -> str:
    """Where the weight of the rough goes: pieces with stones, offcuts, waste, kerfs."""
    saw, per_mm3 = plan.sawing, plan.rough.material.sg / 200.0
    gone = {cut.piece for cut in saw.cuts}
    kept = {offcut.piece for offcut in saw.offcuts}
    weights = {p.id: volume(p.mesh) * per_mm3 for p in saw.pieces if p.id not in gone}
    stones = math.fsum(weights[home] for home in set(saw.stone_pieces))
    offcuts = math.fsum(weights[piece] for piece in kept)
    waste = math.fsum(w for piece, w in weights.items() if piece not in kept) - stones
    kerfs = plan.rough.carat - math.fsum(weights.values())
    return (
        f"Of {carats(plan.rough.carat)} of rough, {carats(stones)} are pieces for stones, "
        f"{carats(offcuts)} offcuts, {carats(waste)} waste, and the blade removes {carats(kerfs)}."
    )


def offcut_lines(plan: Plan) -> Iterator[str]:
    """What each offcut could still give, the heaviest first; then the offcuts not searched."""
    offcuts = sorted(plan.sawing.offcuts, key=lambda offcut: (-offcut.carat, offcut.piece))
    for offcut in offcuts:
        if offcut.fittings is not None:
            yield f"Offcut {offcut.piece:02d}, {carats(offcut.carat)}, {could_give(offcut)}."
    left = [f"{o.piece:02d} ({carats(o.carat)})" for o in offcuts if o.fittings is None]
    if left:
        yield f"Other offcuts, not searched for stones: {', '.join(left)}."


def could_give(offcut: Offcut) -> str:
    """The end of a sentence about an offcut that was searched for stones."""
    if not offcut.fittings:
        return "seems to have room for none of the usual sizes"
    return f"could still give {sizes_text(offcut.fittings)}; larger ones may have been missed"


def sizes_text(fittings: Sequence[Fitting]) -> str:
    """One size of several to choose from, each with its weight."""
    *most, last = (f"{fitting.name} ({carats(fitting.carat)})" for fitting in fittings)
    return f"{', '.join(most)} or {last}" if most else last


def heaviest(offcut: Offcut) -> Fitting | None:
    """The heaviest stone of a usual size found in the offcut; None where none is known."""
    return offcut.fittings[0] if offcut.fittings else None
