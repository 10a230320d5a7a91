"""Whether pieces and cuts form a tree that can be sawn in order."""

from optimizer.audit.common import count, require
from optimizer.sawing.model import SawCut, SawPlan


def pieces_form_a_tree(plan: SawPlan, stones: int) -> str:
    """Each piece comes from one side of one cut of an earlier piece; stones lie in leaves."""
    ids = [piece.id for piece in plan.pieces]
    require(len(set(ids)) == len(ids), "the pieces' ids", f"{sorted(ids)}", "each once")
    roots = [p.id for p in plan.pieces if p.from_cut is None and p.side is None]
    require(roots == [0], "the first piece is the rough", f"pieces from no cut: {roots}", "[0]")
    by_cuts = [(i, k, side) for k, cut in enumerate(plan.cuts) for i, side in children(cut)]
    by_pieces = [(p.id, p.from_cut, p.side) for p in plan.pieces if p.id != 0]
    require(
        sorted(by_cuts, key=str) == sorted(by_pieces, key=str),
        "the pieces are those that the cuts leave",
        f"cuts leave {sorted(by_cuts, key=str)}, pieces say {sorted(by_pieces, key=str)}",
        "the same",
    )
    _require_order(plan)
    _require_leaves(plan, stones)
    return (
        f"{count(len(ids), 'piece')} and {count(len(plan.cuts), 'cut')} form a tree from the rough "
        f"that can be sawn in order; {count(stones, 'stone')} and "
        f"{count(len(plan.offcuts), 'offcut')} lie in uncut pieces of their own."
    )


def children(cut: SawCut) -> list[tuple[int, str]]:
    """The pieces that a cut leaves, each with its side."""
    return [(i, "below") for i in cut.below] + [(i, "above") for i in cut.above]


def _require_order(plan: SawPlan) -> None:
    """A piece exists before it is cut, and is cut only once."""
    made = {0}
    for k, cut in enumerate(plan.cuts):
        require(
            cut.piece in made,
            f"cut {k + 1} has a piece to go through",
            f"piece {cut.piece} is not there, or no longer whole",
            f"one of {sorted(made)}",
        )
        made.remove(cut.piece)
        made |= {i for i, _ in children(cut)}


def _require_leaves(plan: SawPlan, stones: int) -> None:
    leaves = leaf_ids(plan)
    kept = [offcut.piece for offcut in plan.offcuts]
    holders = list(plan.stone_pieces)
    require(len(holders) == stones, "each stone has a piece", f"{len(holders)} named", f"{stones}")
    require(
        len(set(holders + kept)) == len(holders + kept) and set(holders + kept) <= leaves,
        "stones and offcuts lie in uncut pieces, one in each",
        f"stones in {holders}, offcuts {kept}",
        f"each once, of {sorted(leaves)}",
    )


def leaf_ids(plan: SawPlan) -> set[int]:
    """The pieces that no cut goes through."""
    return {piece.id for piece in plan.pieces} - {cut.piece for cut in plan.cuts}


def stones_in(plan: SawPlan, piece: int) -> list[int]:
    """Indices of the stones in ``piece`` or in the pieces that are cut from it."""
    inside, waiting = set(), [piece]
    while waiting:
        one = waiting.pop()
        inside.add(one)
        waiting += [i for cut in plan.cuts if cut.piece == one for i, _ in children(cut)]
    return [k for k, holder in enumerate(plan.stone_pieces) if holder in inside]
