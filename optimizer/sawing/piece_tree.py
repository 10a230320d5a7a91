"""The tree of pieces that the cuts make of the full mesh: saw, weigh, keep what the rule asks."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from optimizer.mesh import Floats, Mesh, Plane, cross
from optimizer.order import Workshop
from optimizer.rough.repair.mend import counted
from optimizer.rough.repair.touching import one_surface
from optimizer.sawing.depth import cut_depth, deepest_mm, sides_of
from optimizer.sawing.model import LEAST_WASTE_CT, Offcut, Piece, SawCut, SawPlan
from optimizer.solid import (
    as_mesh,
    as_solid,
    in_space,
    lumps,
    plane_frame,
    section,
    split_by_kerf,
    volume_of,
)
from optimizer.wording.plain_number import plain

CRUMB_CT = 0.05  # lighter lumps of one side of a cut are counted together as one piece


@dataclass
class PieceTree:
    """The pieces, which grow in number cut by cut. ``stone_pieces[i]`` is the piece that holds
    stone i so far.

    ``inner_points``: a point (3,) within each stone; ``sg``: the specific gravity. All is in the
    scan frame.
    """

    rough: Mesh
    inner_points: Sequence[Floats]
    sg: float
    workshop: Workshop
    pieces: list[Piece] = field(default_factory=list)
    cuts: list[SawCut] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    stone_pieces: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.pieces.append(Piece(0, None, None, self.rough))
        self.stone_pieces = [0] * len(self.inner_points)
        self._solids = [as_solid(self.rough)]  # of the pieces
        self._caps: set[int] = set()  # cuts with stones on one side only

    def carat(self, solid: Any) -> float:
        """Weight of a robust solid; 1 ct is 0.2 g exactly."""
        return volume_of(solid) * self.sg / 200.0

    def carat_of(self, piece: int) -> float:
        """Weight of a piece."""
        return self.carat(self._solids[piece])

    def stones_in(self, piece: int) -> list[int]:
        """Indices of the stones that the piece holds."""
        return [stone for stone, holder in enumerate(self.stone_pieces) if holder == piece]

    def sawn_faces(self, piece: int) -> Iterator[tuple[int, Plane]]:
        """As ``SawPlan.sawn_faces``."""
        return SawPlan(tuple(self.pieces), tuple(self.cuts), (), ()).sawn_faces(piece)

    def caps_before(self, piece: int) -> int:
        """How many caps have come off the piece and off the pieces that it was cut from."""
        caps, at = 0, self.pieces[piece]
        while at.from_cut is not None:
            caps += at.from_cut in self._caps
            at = self.pieces[self.cuts[at.from_cut].piece]
        return caps

    def depth(self, piece: int, plane: Plane) -> float:
        """How deep in mm a blade must cut through the piece from one side."""
        return cut_depth(self.pieces[piece].mesh, plane, self.workshop.kerf_mm)

    def saw_cap(self, piece: int, plane: Plane, run: str) -> bool:
        """Saw a cap off a piece if the rule asks for it on the full mesh; return whether it did.

        ``run`` says how the cut runs. The piece's stones lie below the plane.
        """
        vertices = self.pieces[piece].mesh.vertices
        below, above = split_by_kerf(self._solids[piece], plane, self.workshop.kerf_mm)
        off, rest = lumps(above), lumps(below)
        if not off or not rest:
            return False
        near = plane.offset - self.workshop.kerf_mm / 2.0
        rise = float((vertices @ plane.normal).max() - near)
        heaviest = self.carat(off[0])
        wasted = rise > self.workshop.grind_mm and heaviest >= LEAST_WASTE_CT
        if heaviest < self.workshop.keep_offcut_ct and not wasted:
            return False
        deep = self.depth(piece, plane)
        if deep > deepest_mm(self.workshop):
            self._warn_out_of_reach(heaviest, deep)
            return False
        reason = f"{self._reason(heaviest, rise)} The cut runs {run}."
        self._caps.add(len(self.cuts))
        self._split(piece, plane, deep, rest, off, reason)
        return True

    def saw_between(self, piece: int, plane: Plane, reason: str) -> None:
        """Saw a piece in two along the plane, with stones on both sides."""
        below, above = split_by_kerf(self._solids[piece], plane, self.workshop.kerf_mm)
        deep = self.depth(piece, plane)
        self._split(piece, plane, deep, lumps(below), lumps(above), reason)

    def plan(self) -> SawPlan:
        """The saw plan of all cuts so far. Leaves without a stone that weigh enough are offcuts,
        except crumbs that count together as one piece."""
        gone = {cut.piece for cut in self.cuts} | set(self.stone_pieces)
        weighed = [(p, volume_of(self._solids[p.id])) for p in self.pieces if p.id not in gone]
        per_mm3 = self.sg / 200.0
        offcuts = tuple(
            Offcut(p.id, p.mesh, v, v * per_mm3)
            for p, v in weighed
            if v * per_mm3 >= self.workshop.keep_offcut_ct and len(lumps(self._solids[p.id])) == 1
        )
        return SawPlan(tuple(self.pieces), tuple(self.cuts), offcuts, tuple(self.stone_pieces))

    def _split(
        self, piece: int, plane: Plane, deep: float, below: list[Any], above: list[Any], why: str
    ) -> None:
        """Add the cut and the pieces on both its sides, those with stones first."""
        number, kerf = len(self.cuts), self.workshop.kerf_mm
        centre, stones = cut_centre(self._solids[piece], plane), self.stones_in(piece)
        height = {i: self.inner_points[i] @ plane.normal - plane.offset for i in stones}
        under = self._add_side(number, "below", below, [i for i in stones if height[i] < 0])
        over = self._add_side(number, "above", above, [i for i in stones if height[i] >= 0])
        sides = sides_of(deep, self.workshop)
        cut = SawCut(piece, under, over, plane, centre, kerf, deep / sides, why, sides)
        self.cuts.append(cut)
        if len(below) + len(above) > 2:
            parts = min(height.values()) < 0.0 <= max(height.values())
            side = "one side" if parts else "the stone's side"
            self.warnings.append(
                f"Cut {number + 1} leaves {counted(len(below), 'lump')} on {side} and "
                f"{len(above)} on the other; on each side those under {CRUMB_CT} ct count as one "
                "piece."
            )

    def _add_side(
        self, cut: int, side: str, lumps_on_side: list[Any], stones: list[int]
    ) -> tuple[int, ...]:
        """Add the new pieces on one side of a cut, and note which stones they hold; return the
        pieces' ids."""
        held: dict[int, list[int]] = {}
        for stone in stones:
            held.setdefault(self._lump_around(lumps_on_side, self.inner_points[stone]), []).append(
                stone
            )
        ids = []
        for lump, inside in held.items():
            ids.append(self._add(cut, side, lumps_on_side[lump]))
            for stone in inside:
                self.stone_pieces[stone] = ids[-1]
        rest = [lump for k, lump in enumerate(lumps_on_side) if k not in held]
        return (*ids, *(self._add(cut, side, lump) for lump in self._with_crumbs_merged(rest)))

    def _lump_around(self, lumps_on_side: list[Any], inside: Floats) -> int:
        """Index of the lump that holds the point; 0, the heaviest, where rounding puts the point
        in none of them."""
        if len(lumps_on_side) == 1:
            return 0
        around = (
            k for k, lump in enumerate(lumps_on_side) if contains_point(as_mesh(lump), inside)
        )
        return next(around, 0)

    def _add(self, cut: int, side: str, solid: Any) -> int:
        self.pieces.append(Piece(len(self.pieces), cut, side, one_surface(as_mesh(solid))))
        self._solids.append(solid)
        return self.pieces[-1].id

    def _with_crumbs_merged(self, lumps_on_side: list[Any]) -> list[Any]:
        """The lumps, with all crumbs merged into one solid."""
        whole = [lump for lump in lumps_on_side if self.carat(lump) >= CRUMB_CT]
        crumbs = [lump for lump in lumps_on_side if self.carat(lump) < CRUMB_CT]
        return whole + ([type(crumbs[0]).compose(crumbs)] if crumbs else [])

    def _reason(self, heaviest: float, rise: float) -> str:
        if heaviest >= self.workshop.keep_offcut_ct:
            return f"Keeps an offcut of {heaviest:.1f} ct and saves grinding {rise:.1f} mm."
        return f"Saves grinding {rise:.1f} mm; the piece cut off ({heaviest:.1f} ct) is waste."

    def _warn_out_of_reach(self, carat: float, deep: float) -> None:
        mend = "Grind it." if self.workshop.two_sided else "Grind it, or saw it from both sides."
        self.warnings.append(
            f"A cap of {carat:.1f} ct is not sawn off: the blade would have to reach {deep:.1f} "
            f"mm and the saw reaches {plain(deepest_mm(self.workshop))} mm. {mend}"
        )


def cut_centre(solid: Any, plane: Plane) -> Floats:
    """The centroid (3,) of the section in which a plane cuts a robust solid."""
    frame = plane_frame(plane.normal, np.array([1.0, 0.0, 0.0]))
    loops = section(solid, frame, plane.offset)
    near = loops[0].mean(axis=0)
    area, moment = 0.0, np.zeros(2)
    for loop in loops:  # holes run clockwise, so their areas are negative
        here, ahead = loop - near, np.roll(loop, -1, axis=0) - near
        doubled = here[:, 0] * ahead[:, 1] - here[:, 1] * ahead[:, 0]
        area += float(doubled.sum()) / 2.0
        moment += doubled @ (here + ahead) / 6.0
    return np.asarray(in_space(near + moment / area, frame, plane.offset))


def contains_point(mesh: Mesh, point: Floats) -> bool:
    """Whether the point (3,) lies in a closed mesh, by the mesh's solid angle seen from the point
    (van Oosterom and Strackee 1983, The solid angle of a plane triangle)."""
    a, b, c = np.moveaxis(mesh.triangles - point, 1, 0)
    la, lb, lc = (np.linalg.norm(side, axis=1) for side in (a, b, c))
    top = np.einsum("ij,ij->i", a, cross(b, c))
    ab, bc, ca = (np.einsum("ij,ij->i", p, q) for p, q in ((a, b), (b, c), (c, a)))
    angles = 2.0 * np.arctan2(top, la * lb * lc + ab * lc + bc * la + ca * lb)
    return bool(abs(angles.sum()) > 2.0 * np.pi)
