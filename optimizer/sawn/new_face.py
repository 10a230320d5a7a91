"""What the new face showed: flaws, and where a colour boundary really runs."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from optimizer.errors import InputError, nearest
from optimizer.files.border import place_words
from optimizer.mesh import Floats, Plane
from optimizer.offcuts.piece_rough import flaws_reaching
from optimizer.rough.flats.named_faces import NamedFaces
from optimizer.rough.model import ConvexRoom, Flaw, Zone
from optimizer.rough.rough_file.known import stated_flaws
from optimizer.sawn.pieces import SawnPiece
from optimizer.sawn.sawn_file import SawnTable, SeenBoundaryTable

LEAST_APART_MM = 1.0  # two places closer together don't fix a line (our own choice)


def piece_showing(pieces: Sequence[SawnPiece], number: int | None, where: str) -> SawnPiece:
    """The piece of the plan's ``number`` on whose new face something was seen; the first piece for
    None. Raises InputError where the cut doesn't leave this piece."""
    if number is None:
        return pieces[0]
    for piece in pieces:
        if piece.planned_piece == number:
            return piece
    has = " and ".join(str(n) for n in dict.fromkeys(piece.planned_piece for piece in pieces))
    raise InputError(f"{where}: piece {number} is not left by this cut, which leaves {has}")


def with_flaws(
    pieces: Sequence[SawnPiece], sawn_table: SawnTable, folder: Path, where: str
) -> tuple[tuple[SawnPiece, ...], tuple[Flaw, ...]]:
    """The pieces, each with the seen flaws that reach into it, and all seen flaws."""
    seen: list[Flaw] = []
    for number, table in enumerate(sawn_table.flaws):
        key = f"{where}: {place_words(('flaws', number), is_table=True)}"
        piece = piece_showing(pieces, table.seen_on, key)
        if any(flaw.name == table.name for flaw in piece.rough.flaws):
            raise InputError(f'{key}: a flaw of the rough is named "{table.name}" already')
        flaws, _ = stated_flaws(piece.rough, [table], _named_faces(piece), folder, where, number)
        if not any(flaws_reaching(flaws, one.rough.mesh) for one in pieces):
            raise InputError(f'{key}: "{table.name}" reaches neither piece: check its place')
        seen += flaws
    return tuple(_with(piece, tuple(seen)) for piece in pieces), tuple(seen)


def _with(piece: SawnPiece, seen: tuple[Flaw, ...]) -> SawnPiece:
    flaws = (*piece.rough.flaws, *flaws_reaching(seen, piece.rough.mesh))
    return replace(piece, rough=replace(piece.rough, flaws=flaws))


def with_boundaries(
    pieces: Sequence[SawnPiece], sawn_table: SawnTable, where: str
) -> tuple[tuple[SawnPiece, ...], tuple[str, ...]]:
    """The pieces with the boundaries put where they were seen, and a sentence on how far each was
    off."""
    zones = {zone.name: zone for zone in pieces[0].rough.zones}
    said = []
    for number, table in enumerate(sawn_table.boundaries):
        key = f"{where}: {place_words(('boundaries', number), is_table=True)}"
        if table.zone not in zones:
            hint = nearest(table.zone, zones)
            raise InputError(f'{key}: the rough has no zone "{table.zone}"; {hint}')
        piece = piece_showing(pieces, table.seen_on, key)
        try:
            zone, off = _put_right(zones[table.zone], table, piece)
        except ValueError as error:
            raise InputError(f"{key} {error}") from None
        zones[table.zone] = zone
        said.append(off)
    kept = tuple(zones.values())
    return tuple(replace(p, rough=replace(p.rough, zones=kept)) for p in pieces), tuple(said)


def _put_right(zone: Zone, table: SeenBoundaryTable, piece: SawnPiece) -> tuple[Zone, str]:
    named_faces, what = _named_faces(piece), f'the boundary "{zone.name}"'
    points = np.array([named_faces.place(place, what) for place in table.points_mm])
    old = _main_plane(zone)
    new = plane_through(old, points, piece.face, table.angle_to_face_deg)
    off = float(np.abs(points @ old.normal - old.offset).max())
    turn = float(np.degrees(np.arccos(np.clip(old.normal @ new.normal, -1.0, 1.0))))
    boundary: Plane | ConvexRoom = new
    if isinstance(zone.boundary, ConvexRoom):
        far = Plane(-new.normal, -new.offset - (zone.boundary.thick_mm or 0.0))
        boundary = ConvexRoom((new, far))
    said = (
        f'The boundary "{zone.name}" lies up to {off:.2f} mm from where it was thought to be, '
        f"turned by {turn:.1f}°."
    )
    return replace(zone, boundary=boundary, fit=None), said


def _main_plane(zone: Zone) -> Plane:
    """The plane of a flat boundary, or the first of the two planes of a band."""
    if isinstance(zone.boundary, Plane):
        return zone.boundary
    if isinstance(zone.boundary, ConvexRoom) and zone.boundary.thick_mm is not None:
        return zone.boundary.planes[0]
    raise ValueError(
        f"is about a {zone.kind}, which two places can't correct: mark it anew in the rough files "
        "of the pieces"
    )


def plane_through(
    old: Plane, points: Floats, face: Plane, angle_to_face_deg: float | None = None
) -> Plane:
    """The plane through the line that fits points (n, 3) best.

    Its normal is as near to the old normal as the line allows; or the plane stands at an angle to
    the new face, of the two such planes the one nearer to the old plane. Raises ValueError where
    the points don't fix a line or the line doesn't fix a plane.
    """
    middle = points.mean(axis=0)
    _, spread, ways = np.linalg.svd(points - middle)
    if spread[0] < LEAST_APART_MM / 2.0:
        raise ValueError("has its places nearly at one spot: take two that are far apart")
    line = ways[0]
    if angle_to_face_deg is not None:
        angle = np.radians(angle_to_face_deg)
        across = np.cross(line, face.normal)
        if np.linalg.norm(across) < 0.5:
            raise ValueError("has its line nearly square to the new face, which it should lie on")
        across /= np.linalg.norm(across)
        leaning = [s * np.cos(angle) * face.normal + t * np.sin(angle) * across
                   for s in (-1.0, 1.0) for t in (-1.0, 1.0)]  # fmt: skip
        return Plane.through(middle, max(leaning, key=lambda n: float(n @ old.normal)))
    normal = old.normal - (old.normal @ line) * line
    if np.linalg.norm(normal) < 0.5:
        raise ValueError("has its line nearly square to the boundary as it was thought to run")
    return Plane.through(middle, normal)


def _named_faces(piece: SawnPiece) -> NamedFaces:
    """The named faces of a piece, the new face among them, from which places may be given."""
    return NamedFaces({face.name: face.plane for face in piece.rough.reference_faces})
