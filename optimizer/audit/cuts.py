"""Are the saw cuts possible, and do the pieces add up to the rough?"""

from collections.abc import Sequence
from typing import Any

import numpy as np

from optimizer.audit.clipped import least_width, section_points, volume_above, volumes_above
from optimizer.audit.ground import (
    LENGTH_MM,
    OUTSIDE_SHARE,
    RELATIVE,
    close,
    count,
    require,
    robust,
    within,
)
from optimizer.mesh import Floats, Mesh, Plane
from optimizer.order import Workshop
from optimizer.sawing.model import Cut, Offcut, SawPlan

_OF_THE_ROUGH = 1e-6  # pieces and kerfs against the rough, by volume


def pieces_form_a_tree(plan: SawPlan, stones: int) -> str:
    """Each piece comes from one side of one cut of an earlier piece; stones lie in leaves."""
    ids = [piece.id for piece in plan.pieces]
    require(len(set(ids)) == len(ids), "the pieces' ids", f"{sorted(ids)}", "each once")
    roots = [p.id for p in plan.pieces if p.from_cut is None and p.side is None]
    require(roots == [0], "the first piece is the rough", f"pieces from no cut: {roots}", "[0]")
    told = [(i, k, side) for k, cut in enumerate(plan.cuts) for i, side in _children(cut)]
    claimed = [(p.id, p.from_cut, p.side) for p in plan.pieces if p.id != 0]
    require(
        sorted(told, key=str) == sorted(claimed, key=str),
        "the pieces are those that the cuts leave",
        f"cuts leave {sorted(told, key=str)}, pieces say {sorted(claimed, key=str)}",
        "the same",
    )
    _require_order(plan)
    _require_leaves(plan, stones)
    return (
        f"{count(len(ids), 'piece')} and {count(len(plan.cuts), 'cut')} form a tree from the rough "
        f"that can be sawn in order; {count(stones, 'stone')} and "
        f"{count(len(plan.offcuts), 'offcut')} lie in uncut pieces of their own."
    )


def _children(cut: Cut) -> list[tuple[int, str]]:
    return [(i, "below") for i in cut.below] + [(i, "above") for i in cut.above]


def _require_order(plan: SawPlan) -> None:
    """A piece exists before it is cut, and is cut once."""
    made = {0}
    for k, cut in enumerate(plan.cuts):
        require(
            cut.piece in made,
            f"cut {k + 1} has a piece to go through",
            f"piece {cut.piece} is not there, or no longer whole",
            f"one of {sorted(made)}",
        )
        made.remove(cut.piece)
        made |= {i for i, _ in _children(cut)}


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
    """Indices of the stones that lie in ``piece`` or in what it is cut into."""
    inside, waiting = set(), [piece]
    while waiting:
        one = waiting.pop()
        inside.add(one)
        waiting += [i for cut in plan.cuts if cut.piece == one for i, _ in _children(cut)]
    return [k for k, holder in enumerate(plan.stone_pieces) if holder in inside]


def cuts_clear_stones(plan: SawPlan, stones: Sequence[Mesh], workshop: Workshop) -> str:
    """Each plane passes every stone of its piece by half the kerf and the allowances."""
    wanted = workshop.kerf_mm / 2.0 + workshop.saw_error_mm + workshop.clean_up_mm
    made = len(plan.cuts)
    require(
        made <= workshop.most_cuts, "number of cuts", f"{made}", f"{workshop.most_cuts} or less"
    )
    nearest = np.inf
    meshes = {p.id: p.mesh for p in plan.pieces}
    for k, cut in enumerate(plan.cuts):
        _require_blade(cut, meshes[cut.piece], workshop, f"cut {k + 1}")
        for i in stones_in(plan, cut.piece):
            passes = _passes_by(stones[i], cut)
            require(
                passes >= wanted - LENGTH_MM,
                f"cut {k + 1} is clear of stone {i + 1}",
                f"{passes:.9g} mm from its plane",
                f"at least {wanted:.9g} mm (half the kerf, saw error, clean-up)",
            )
            nearest = min(nearest, passes)
    return (
        f"{count(made, 'cut')} through the stone's piece: the middle of the kerf passes at least "
        f"{nearest:.6f} mm from every stone, with {wanted:.6g} mm demanded."
    )


def _require_blade(cut: Cut, piece: Mesh, workshop: Workshop, name: str) -> None:
    """The workshop's kerf, a unit normal, and a depth that the saw has and the piece needs."""
    close(f"the kerf of {name}", cut.kerf_mm, workshop.kerf_mm, RELATIVE, "mm")
    length = float(np.linalg.norm(cut.plane.normal))
    close(f"the normal of {name}", length, 1.0, RELATIVE, "long")
    needed = least_width(section_points(piece, cut.plane))
    within(
        f"the depth of {name}",
        cut.depth_mm,
        (needed, workshop.saw_reach_mm),
        LENGTH_MM,
        "mm (from its section's least width to the saw's reach)",
    )


def _passes_by(stone: Mesh, cut: Cut) -> float:
    """Distance from the stone to the cut's plane in mm, zero or less where it is crossed."""
    heights = stone.vertices @ cut.plane.normal - cut.plane.offset
    return float(max(heights.min(), -heights.max()))


def piece_solids(plan: SawPlan, rough: Any, rough_mesh: Mesh) -> dict[int, Any]:
    """The kernel's solid of each piece by its id; piece 0 must be the rough's own mesh."""
    for piece in plan.pieces:
        if piece.id == 0:
            _require_same(piece.mesh, rough_mesh, "piece 0", "the rough")
    sawn = {p.id: robust(p.mesh, f"piece {p.id}") for p in plan.pieces if p.id != 0}
    return {0: rough} | sawn


def pieces_add_up(plan: SawPlan, solids: dict[int, Any]) -> str:
    """Cut by cut: what is left below and above is the piece without the kerf, and no more."""
    meshes = {p.id: p.mesh for p in plan.pieces}
    whole, kerfs = solids[0].volume(), 0.0
    for k, cut in enumerate(plan.cuts):
        beside = beside_kerf(meshes[cut.piece], cut)
        kerfs += beside["kerf"]
        for side, ids in (("below", cut.below), ("above", cut.above)):
            trimmed = beside[side]
            left = sum(solids[i].volume() for i in ids)
            close(f"the pieces {side} cut {k + 1}", left, trimmed, _OF_THE_ROUGH * whole, "mm³")
            for i in ids:
                _require_from(meshes[i], meshes[cut.piece], cut, side, f"piece {i}")
    leaves = sum(solids[i].volume() for i in leaf_ids(plan))
    close("pieces and kerfs together", leaves + kerfs, whole, _OF_THE_ROUGH * whole, "mm³")
    return (
        f"Pieces ({leaves:.6f} mm³) and kerfs ({kerfs:.6f} mm³) add up to the rough "
        f"({whole:.6f} mm³) to {abs(leaves + kerfs - whole) / whole:.1g}."
    )


def beside_kerf(mesh: Mesh, cut: Cut) -> dict[str, float]:
    """Volumes in mm³ of a piece "below" and "above" the kerf, and of the "kerf" itself."""
    n, c, half = cut.plane.normal, cut.plane.offset, cut.kerf_mm / 2.0
    above, kerf_and_above = volumes_above(mesh, n, (c + half, c - half))
    return {
        "above": above,
        "below": volume_above(mesh, Plane(-n, half - c)),
        "kerf": kerf_and_above - above,
    }


def _require_from(child: Mesh, parent: Mesh, cut: Cut, side: str, name: str) -> None:
    """Every corner of the child is on its side, and is the parent's or lies on the kerf's face."""
    turn = 1.0 if side == "above" else -1.0
    heights = turn * (child.vertices @ cut.plane.normal - cut.plane.offset) - cut.kerf_mm / 2.0
    require(
        heights.min() >= -LENGTH_MM,
        f"{name} lies {side} its cut",
        f"it reaches {-heights.min():.6g} mm into the kerf",
        "nothing beyond the kerf's face",
    )
    natural = child.vertices[heights > LENGTH_MM]
    furthest = float(_to_corners(natural, parent.vertices).max(initial=0.0))
    require(
        furthest <= LENGTH_MM,
        f"{name} is a part of the piece it was cut from",
        f"a corner {furthest:.6g} mm from any of the piece's own",
        "the piece's own corners beside the kerf's face",
    )


def _to_corners(points: Floats, corners: Floats) -> Floats:
    """Distance of each point (n, 3) to the nearest of the corners (k, 3), in mm.

    Copies are found first, by their place along a slanted line, and measured; only what has no
    copy is looked up in a tree.
    """
    order = np.argsort(_along(corners))
    place = np.searchsorted(_along(corners)[order], _along(points)).clip(max=len(corners) - 1)
    apart = np.linalg.norm(points - corners[order[place]], axis=1)
    moved = apart > LENGTH_MM
    if moved.any():
        from scipy.spatial import cKDTree

        apart[moved] = cKDTree(corners).query(points[moved])[0]
    return np.asarray(apart)


def _along(points: Floats) -> Floats:
    """Summed term by term, so that copies get the same number to the last bit."""
    return np.asarray(points[:, 0] + points[:, 1] * np.sqrt(2.0) + points[:, 2] * np.sqrt(3.0))


def _require_same(one: Mesh, other: Mesh, name: str, other_name: str) -> None:
    same = one.vertices.shape == other.vertices.shape and np.array_equal(one.faces, other.faces)
    apart = float(np.abs(one.vertices - other.vertices).max()) if same else float("inf")
    require(
        apart <= LENGTH_MM,
        f"{name} is {other_name}",
        f"corners {apart:.3g} mm apart",
        "the same solid",
    )


def stones_lie_in_their_pieces(
    plan: SawPlan, stones: Sequence[Mesh], solids: dict[int, Any]
) -> str:
    """Stone minus piece is nothing."""
    worst = 0.0
    for k, (stone, holder) in enumerate(zip(stones, plan.stone_pieces, strict=True)):
        solid = robust(stone, f"stone {k + 1}")
        outside = (solid - solids[holder]).volume() / solid.volume()
        require(
            outside <= OUTSIDE_SHARE,
            f"stone {k + 1} lies in piece {holder}",
            f"{outside:.3g} of its volume lies outside",
            f"at most {OUTSIDE_SHARE:.0e}",
        )
        worst = max(worst, outside)
    return f"Each stone lies in the piece named for it: at most {worst:.1g} of it is outside."


def stones_are_apart(stones: Sequence[Mesh], workshop: Workshop) -> str:
    """Each two stones leave room for a kerf with its allowances between them."""
    wanted = workshop.kerf_mm + 2.0 * (workshop.saw_error_mm + workshop.clean_up_mm)
    solids = [robust(s, f"stone {k + 1}") for k, s in enumerate(stones)]
    nearest = 2.0 * wanted + 1.0
    for j in range(len(solids)):
        for i in range(j):
            gap = float(solids[i].min_gap(solids[j], nearest))
            require(
                gap >= wanted - LENGTH_MM,
                f"stones {i + 1} and {j + 1} are apart",
                f"{gap:.9g} mm",
                f"at least {wanted:.9g} mm (kerf and allowances on both sides)",
            )
            nearest = min(nearest, gap)
    return f"Each two stones are at least {nearest:.6f} mm apart, with {wanted:.6g} mm demanded."


def offcuts_are_their_pieces(plan: SawPlan, solids: dict[int, Any], sg: float) -> str:
    """Each offcut is the piece it claims, its weight by the kernel's volume."""
    meshes = {p.id: p.mesh for p in plan.pieces}
    total = 0.0
    for offcut in plan.offcuts:
        _require_same(offcut.mesh, meshes[offcut.piece], _name(offcut), "that piece")
        total += _offcut_weight(offcut, float(solids[offcut.piece].volume()), sg)
    return f"{count(len(plan.offcuts), 'offcut')} as claimed, {total:.6f} ct in all."


def _name(offcut: Offcut) -> str:
    return f"the offcut from piece {offcut.piece}"


def _offcut_weight(offcut: Offcut, volume: float, sg: float) -> float:
    """The offcut's weight in carats, which must be the stated one."""
    carat = volume * sg / 200.0
    close(f"{_name(offcut)}: volume", offcut.volume_mm3, volume, RELATIVE * volume, "mm³")
    close(f"{_name(offcut)}: weight", offcut.carat, carat, RELATIVE * carat, "ct")
    return carat
