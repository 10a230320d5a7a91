"""The tree of cuts on the full mesh: saw, weigh, keep what the rule asks for."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from optimizer.mesh import Floats, Mesh, Plane
from optimizer.order import Workshop
from optimizer.rough.mend import counted
from optimizer.sawing.depth import cut_depth
from optimizer.sawing.model import Cut, Offcut, Piece, SawPlan
from optimizer.solid import (
    as_mesh,
    in_space,
    lumps,
    part,
    plane_frame,
    rough_solid,
    section,
    volume_of,
)

CRUMB_CT = 0.05  # lighter lumps of one side of a cut are counted together as one piece


@dataclass
class Tree:
    """Grows cut by cut; ``stone_piece`` is the piece that the next cut goes through.

    ``inside`` (3,) is a point within the stone, ``sg`` its density, scan frame throughout.
    """

    rough: Mesh
    inside: Floats
    sg: float
    workshop: Workshop
    pieces: list[Piece] = field(default_factory=list)
    cuts: list[Cut] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    stone_piece: int = 0

    def __post_init__(self) -> None:
        self.pieces.append(Piece(0, None, None, self.rough))
        self._solids = [rough_solid(self.rough)]  # of the pieces

    def carat(self, solid: Any) -> float:
        """Weight of a robust solid; 1 ct is 0.2 g exactly."""
        return volume_of(solid) * self.sg / 200.0

    def saw(self, plane: Plane, run: str) -> bool:
        """Cut the stone's piece where the full mesh bears out the rule; tells whether it did.

        ``run`` says how the cut runs. The stone lies below the plane.
        """
        piece = self.pieces[self.stone_piece].mesh
        below, above = part(self._solids[self.stone_piece], plane, self.workshop.kerf_mm)
        off, rest = lumps(above), lumps(below)
        if not off or not rest:
            return False
        near = plane.offset - self.workshop.kerf_mm / 2.0
        rise = float((piece.vertices @ plane.normal).max() - near)
        heaviest = self.carat(off[0])
        if heaviest < self.workshop.keep_offcut_ct and rise <= self.workshop.grind_mm:
            return False
        deep = cut_depth(piece, plane, self.workshop.kerf_mm)
        if deep > self.workshop.saw_reach_mm:
            self._say_out_of_reach(heaviest, deep)
            return False
        self._split(plane, deep, off, rest, f"{self._reason(heaviest, rise)} The cut runs {run}.")
        return True

    def plan(self) -> SawPlan:
        """The tree as it stands; leaves without the stone that weigh enough are the offcuts."""
        gone = {cut.piece for cut in self.cuts} | {self.stone_piece}
        weighed = [(p, volume_of(self._solids[p.id])) for p in self.pieces if p.id not in gone]
        per_mm3 = self.sg / 200.0
        offcuts = tuple(
            Offcut(p.id, p.mesh, v, v * per_mm3)
            for p, v in weighed
            if v * per_mm3 >= self.workshop.keep_offcut_ct
        )
        return SawPlan(tuple(self.pieces), tuple(self.cuts), offcuts, (self.stone_piece,))

    def _split(self, plane: Plane, deep: float, off: list[Any], rest: list[Any], why: str) -> None:
        parent, number = self.stone_piece, len(self.cuts)
        holder = next((lump for lump in rest if holds(as_mesh(lump), self.inside)), rest[0])
        others = [lump for lump in rest if lump is not holder]
        below = [self._add(number, "below", holder)]
        below += [self._add(number, "below", lump) for lump in self._gathered(others)]
        above = [self._add(number, "above", lump) for lump in self._gathered(off)]
        centre, kerf = cut_centre(self._solids[parent], plane), self.workshop.kerf_mm
        self.cuts.append(Cut(parent, tuple(below), tuple(above), plane, centre, kerf, deep, why))
        self.stone_piece = below[0]
        if len(off) + len(rest) > 2:
            self.warnings.append(
                f"Cut {number + 1} leaves {counted(len(rest), 'lump')} on the stone's side and "
                f"{len(off)} on the other; on each side those under {CRUMB_CT} ct count as one "
                "piece."
            )

    def _add(self, cut: int, side: str, solid: Any) -> int:
        self.pieces.append(Piece(len(self.pieces), cut, side, as_mesh(solid)))
        self._solids.append(solid)
        return self.pieces[-1].id

    def _gathered(self, loose: list[Any]) -> list[Any]:
        """Each lump by itself, and all crumbs together as one."""
        whole = [lump for lump in loose if self.carat(lump) >= CRUMB_CT]
        crumbs = [lump for lump in loose if self.carat(lump) < CRUMB_CT]
        return whole + ([type(crumbs[0]).compose(crumbs)] if crumbs else [])

    def _reason(self, heaviest: float, rise: float) -> str:
        if heaviest >= self.workshop.keep_offcut_ct:
            return f"Keeps an offcut of {heaviest:.1f} ct and saves grinding {rise:.1f} mm."
        return f"Saves grinding {rise:.1f} mm; the piece off ({heaviest:.1f} ct) is waste."

    def _say_out_of_reach(self, carat: float, deep: float) -> None:
        self.warnings.append(
            f"A cap of {carat:.1f} ct is not sawn off: the blade would have to reach {deep:.1f} "
            f"mm and the saw reaches {self.workshop.saw_reach_mm:g} mm. Grind it, or saw it from "
            "both sides."
        )


def cut_centre(solid: Any, plane: Plane) -> Floats:
    """Centroid (3,) of the section in which a plane cuts a robust solid."""
    frame = plane_frame(plane.normal, np.array([1.0, 0.0, 0.0]))
    loops = section(solid, frame, plane.offset)
    near = loops[0].mean(axis=0)
    area, moment = 0.0, np.zeros(2)
    for loop in loops:  # holes run the other way round, so they count against the rest
        here, ahead = loop - near, np.roll(loop, -1, axis=0) - near
        doubled = here[:, 0] * ahead[:, 1] - here[:, 1] * ahead[:, 0]
        area += float(doubled.sum()) / 2.0
        moment += doubled @ (here + ahead) / 6.0
    return np.asarray(in_space(near + moment / area, frame, plane.offset))


def holds(mesh: Mesh, point: Floats) -> bool:
    """Whether a closed mesh holds the point, by its solid angle (van Oosterom and Strackee 1983,
    The solid angle of a plane triangle)."""
    a, b, c = np.moveaxis(mesh.triangles - point, 1, 0)
    la, lb, lc = (np.linalg.norm(side, axis=1) for side in (a, b, c))
    top = np.einsum("ij,ij->i", a, np.cross(b, c))
    ab, bc, ca = (np.einsum("ij,ij->i", p, q) for p, q in ((a, b), (b, c), (c, a)))
    angles = 2.0 * np.arctan2(top, la * lb * lc + ab * lc + bc * la + ca * lb)
    return bool(abs(angles.sum()) > 2.0 * np.pi)
