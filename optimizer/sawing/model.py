"""Saw cuts and the pieces that they leave."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from optimizer.mesh import Floats, Mesh, Plane
from optimizer.placement.model import Placement
from optimizer.wording.plain_number import plain


class OutOfReachError(Exception):
    """The saw doesn't reach through between two groups of stones, which the message names."""


LEAST_WASTE_CT = 0.5  # less waste is ground, however high it rises; common practice, no source


@dataclass(frozen=True)
class SawCut:
    """One saw cut right through ``piece``. ``plane`` is the middle of the kerf; its normal
    points to the ``above`` side."""

    piece: int
    below: tuple[int, ...]  # ids of the pieces left on that side; pieces with stones come first
    above: tuple[int, ...]
    plane: Plane
    centre: Floats  # (3,) scan frame: centroid of the section in which the plane cuts the piece
    kerf_mm: float
    depth_mm: float  # how deep the blade must cut by the shortest way, from each of the sides
    reason: str  # a plain sentence
    sides: int = 1  # how many sides the blade enters from: 2 where the piece is turned over
    setting: "SawSetting | None" = None  # None: not worked out

    def face(self, *, above: bool) -> Plane:
        """The face of the kerf on one side, its normal out of the piece that has this face."""
        return kerf_face(self.plane, self.kerf_mm, above=above)


def kerf_face(middle: Plane, kerf_mm: float, *, above: bool) -> Plane:
    """The face of the kerf about ``middle`` on one side, its normal out of the piece there."""
    half = kerf_mm / 2.0
    if above:
        return Plane(-middle.normal, -(middle.offset + half))
    return Plane(middle.normal, middle.offset - half)


@dataclass(frozen=True)
class SawSetting:
    """How the piece is set up for a cut: the flat that guides it, and the face sawn last."""

    face: str | None  # the flat that the cut is parallel or square to; None where there is none
    square: bool  # True: square to that flat; False: parallel to it
    face_mm: float | None  # from a parallel flat to the near side of the kerf
    last: str | None  # the face sawn last of those still on the piece
    last_deg: float | None  # the cut's angle to that face


@dataclass(frozen=True)
class Piece:
    """A piece of the rough; id 0 is the rough itself, before the first cut."""

    id: int
    from_cut: int | None  # index into the cuts
    side: str | None  # "below" | "above" that cut
    mesh: Mesh


@dataclass(frozen=True)
class Fitting:
    """A stone of a usual size that an offcut could still give, placed in it (scan frame)."""

    outline: str
    design: str
    parameters: Mapping[str, float]
    placement: Placement
    carat: float

    @property
    def name(self) -> str:
        """Outline and size, as in "oval 8 × 10 mm"."""
        width = self.placement.pose.width
        length = self.placement.body.length_at(width)
        size = (
            f"{plain(width, 3)}"
            if abs(length - width) < 1e-6 * width
            else f"{plain(width, 3)} × {plain(length, 3)}"
        )
        return f"{self.outline} {size} mm"


@dataclass(frozen=True)
class Offcut:
    """A piece that holds no stone of this order and is kept."""

    piece: int
    mesh: Mesh
    volume_mm3: float
    carat: float
    # The largest usual size found of each outline, heaviest first; None: not searched.
    fittings: tuple[Fitting, ...] | None = None


@dataclass(frozen=True)
class SawPlan:
    """The tree of cuts for one plan. ``stone_pieces[i]`` is the piece that holds stone i."""

    pieces: tuple[Piece, ...]
    cuts: tuple[SawCut, ...]
    offcuts: tuple[Offcut, ...]
    stone_pieces: tuple[int, ...]

    def stones_in(self, piece: int) -> tuple[int, ...]:
        """Indices of the stones in a piece or in the pieces that are cut from it."""
        inside = {piece}
        for cut in self.cuts:  # in sawing order: what a cut leaves comes after its piece
            if cut.piece in inside:
                inside |= {*cut.below, *cut.above}
        return tuple(k for k, home in enumerate(self.stone_pieces) if home in inside)

    def between_stones(self, cut: SawCut) -> bool:
        """Whether stones lie on both sides of a cut."""
        return all(any(self.stones_in(piece) for piece in side) for side in (cut.below, cut.above))

    def sawn_faces(self, piece: int) -> Iterator[tuple[int, Plane]]:
        """The faces that a piece, or any piece it was cut from, got from cuts, the last cut first:
        the cut's index, and the plane with its normal out of the piece."""
        by_id = {one.id: one for one in self.pieces}
        at = by_id[piece]
        while at.from_cut is not None:
            cut = self.cuts[at.from_cut]
            yield at.from_cut, cut.face(above=at.side == "above")
            at = by_id[cut.piece]
