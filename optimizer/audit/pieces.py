"""Whether pieces and kerfs add up to the rough, and stones and offcuts lie where they should."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from optimizer.audit.clipped import volumes_above
from optimizer.audit.common import (
    LENGTH_MM,
    OUTSIDE_SHARE,
    RELATIVE,
    close,
    count,
    require,
    robust,
)
from optimizer.audit.tree import leaf_ids
from optimizer.mesh import Floats, Mesh, volume
from optimizer.sawing.model import Offcut, SawCut, SawPlan
from optimizer.solid import volume_of
from optimizer.wording.plain_number import plain

_OF_THE_ROUGH = 1e-6  # pieces and kerfs against the rough, by volume


def piece_solids(plan: SawPlan, rough: Any, rough_mesh: Mesh) -> dict[int, Any]:
    """The kernel's solids of the rough and of each piece left in the end, by their ids.

    Piece 0 must be the rough's own mesh. Pieces that are sawn further are only checked to be
    closed: they are large, and everything else is measured on the pieces that are left of them.
    """
    leaves, solids = leaf_ids(plan), {0: rough}
    for piece in plan.pieces:
        if piece.id == 0:
            _require_same(piece.mesh, rough_mesh, "piece 0", "the rough")
        elif piece.id in leaves:
            solids[piece.id] = robust(piece.mesh, f"piece {piece.id}")
        else:
            require_closed(piece.mesh, f"piece {piece.id}")
    return solids


def require_closed(mesh: Mesh, name: str) -> None:
    """Each side of a triangle occurs as often in the opposite direction, and the volume is
    positive."""
    a, b = mesh.faces.ravel(), np.roll(mesh.faces, -1, axis=1).ravel()
    count = len(mesh.vertices)
    closed = np.array_equal(np.sort(a * count + b), np.sort(b * count + a))
    require(closed, f"{name} is a closed solid", "sides of triangles left open", "closed")
    inside = volume(mesh)
    require(inside > 0.0, f"{name} is wound outward", f"{plain(inside)} mm³", "a positive volume")


def pieces_add_up(plan: SawPlan, solids: dict[int, Any]) -> str:
    """For each cut, the pieces below and above it are the sawn piece less the kerf."""
    meshes = {p.id: p.mesh for p in plan.pieces}
    kept = {i: volume_of(solid) for i, solid in solids.items()}
    volumes = {i: kept[i] if i in kept else volume(mesh) for i, mesh in meshes.items()}
    whole, kerfs = kept[0], 0.0
    for k, cut in enumerate(plan.cuts):
        beside = beside_kerf(meshes[cut.piece], cut)
        kerfs += beside["kerf"]
        for side, ids in (("below", cut.below), ("above", cut.above)):
            trimmed = beside[side]
            left = sum(volumes[i] for i in ids)
            close(f"the pieces {side} cut {k + 1}", left, trimmed, _OF_THE_ROUGH * whole, "mm³")
            for i in ids:
                _require_from(meshes[i], meshes[cut.piece], cut, side, f"piece {i}")
    leaves = sum(volumes[i] for i in leaf_ids(plan))
    close("pieces and kerfs together", leaves + kerfs, whole, _OF_THE_ROUGH * whole, "mm³")
    return (
        f"Pieces ({leaves:.6f} mm³) and kerfs ({kerfs:.6f} mm³) add up to the rough "
        f"({whole:.6f} mm³) to {plain(abs(leaves + kerfs - whole) / whole, 1)}."
    )


def beside_kerf(mesh: Mesh, cut: SawCut) -> dict[str, float]:
    """Volumes in mm³ of a piece "below" and "above" the kerf, and of the "kerf" itself."""
    n, c, half = cut.plane.normal, cut.plane.offset, cut.kerf_mm / 2.0
    above, kerf_and_above = volumes_above(mesh, n, (c + half, c - half))
    return {
        "above": above,
        "below": volume(mesh) - kerf_and_above,
        "kerf": kerf_and_above - above,
    }


def _require_from(child: Mesh, parent: Mesh, cut: SawCut, side: str, name: str) -> None:
    """Each corner of the child lies on its side of the cut, and is a corner of the parent or lies
    on the kerf's face."""
    turn = 1.0 if side == "above" else -1.0
    heights = turn * (child.vertices @ cut.plane.normal - cut.plane.offset) - cut.kerf_mm / 2.0
    require(
        heights.min() >= -LENGTH_MM,
        f"{name} lies {side} its cut",
        f"it reaches {plain(-heights.min())} mm into the kerf",
        "nothing beyond the kerf's face",
    )
    natural = child.vertices[heights > LENGTH_MM]
    furthest = float(_to_corners(natural, parent.vertices).max(initial=0.0))
    require(
        furthest <= LENGTH_MM,
        f"{name} is a part of the piece it was cut from",
        f"a corner {plain(furthest)} mm from any of the piece's own",
        "the piece's own corners beside the kerf's face",
    )


def _to_corners(points: Floats, corners: Floats) -> Floats:
    """Distance of each point (n, 3) to the nearest of the corners (k, 3), in mm.

    Equal corners are found first, by their coordinate along a slanted line. Only points without an
    equal corner are looked up in a tree.
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
    """A coordinate along a slanted line, summed term by term, so that equal points get the same
    number to the last bit."""
    return np.asarray(points[:, 0] + points[:, 1] * np.sqrt(2.0) + points[:, 2] * np.sqrt(3.0))


def _require_same(one: Mesh, other: Mesh, name: str, other_name: str) -> None:
    same = one.vertices.shape == other.vertices.shape and np.array_equal(one.faces, other.faces)
    apart = float(np.abs(one.vertices - other.vertices).max()) if same else float("inf")
    require(
        apart <= LENGTH_MM,
        f"{name} is {other_name}",
        f"corners {plain(apart, 3)} mm apart",
        "the same solid",
    )


def stones_lie_in_their_pieces(
    plan: SawPlan, stones: Sequence[Mesh], solids: dict[int, Any]
) -> str:
    """No part of a stone lies outside its piece."""
    worst = 0.0
    for k, (stone, holder) in enumerate(zip(stones, plan.stone_pieces, strict=True)):
        solid = robust(stone, f"stone {k + 1}")
        outside = volume_of(solid - solids[holder]) / volume_of(solid)
        require(
            outside <= OUTSIDE_SHARE,
            f"stone {k + 1} lies in piece {holder}",
            f"{plain(outside, 3)} of its volume lies outside",
            f"at most {plain(OUTSIDE_SHARE, 1)}",
        )
        worst = max(worst, outside)
    return f"Each stone lies in the piece named for it: at most {plain(worst, 1)} of it is outside."


def offcuts_are_their_pieces(plan: SawPlan, solids: dict[int, Any], sg: float) -> str:
    """Each offcut is the piece it claims, its weight by the kernel's volume."""
    meshes = {p.id: p.mesh for p in plan.pieces}
    total = 0.0
    for offcut in plan.offcuts:
        _require_same(offcut.mesh, meshes[offcut.piece], _name(offcut), "that piece")
        total += _offcut_weight(offcut, volume_of(solids[offcut.piece]), sg)
    return f"{count(len(plan.offcuts), 'offcut')} as claimed, {total:.6f} ct in all."


def _name(offcut: Offcut) -> str:
    return f"the offcut from piece {offcut.piece}"


def _offcut_weight(offcut: Offcut, mm3: float, sg: float) -> float:
    """The offcut's weight in carats, which must be the stated one."""
    carat = mm3 * sg / 200.0
    close(f"{_name(offcut)}: volume", offcut.volume_mm3, mm3, RELATIVE * mm3, "mm³")
    close(f"{_name(offcut)}: weight", offcut.carat, carat, RELATIVE * carat, "ct")
    return carat
