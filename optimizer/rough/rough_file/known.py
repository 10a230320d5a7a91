"""What a rough file says of its piece (zones, flaws, faces, axes), in the scan's own frame."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from pathlib import Path

from optimizer.errors import InputError
from optimizer.files.border import Place, place_words
from optimizer.mesh import Floats
from optimizer.rough.flats.named_faces import PLATE, NamedFaces, resting_plane
from optimizer.rough.flaws.shape import inner_point, outside
from optimizer.rough.flaws.table import FlawTable
from optimizer.rough.formats.read import read_mesh
from optimizer.rough.model import NOT_STATED, Flaw, ReferenceFace, Repair, Rough, Zone
from optimizer.rough.repair.solidify import unchanged_solid
from optimizer.rough.rough_file.keys import FaceDirectionTable
from optimizer.rough.rough_file.table import RoughTable
from optimizer.rough.zones.colour_axes import second_axis_of
from optimizer.rough.zones.painted import zone_of_colours
from optimizer.rough.zones.solid import refuse_vast_ball
from optimizer.rough.zones.table import ZoneTable
from optimizer.solid import as_solid
from optimizer.wording.plain_number import plain


def with_known(rough: Rough, table: RoughTable, folder: Path, where: str) -> Rough:
    """``rough`` with all that ``table`` says of zones, flaws, faces and directions.

    Meshes of flaws are looked for in ``folder``. Raises InputError, prefixed by ``where``.
    """
    faces = (*rough.reference_faces, *(face.as_face() for face in table.reference_faces))
    named_faces = _named_faces(rough, table, faces, where)
    zones = tuple(
        _zone(rough, zone, named_faces, where, number) for number, zone in enumerate(table.zones)
    )
    flaws, mended = stated_flaws(rough, table.flaws, named_faces, folder, where)

    def direction(
        stated: "list[float] | FaceDirectionTable | None", *place: str | int
    ) -> Floats | None:
        with _named_cause(where, place):
            return None if stated is None else named_faces.direction(stated)

    optic = direction(table.optic_axis, "optic_axis")
    second = direction(table.second_axis, "second_axis")
    try:
        second = second_axis_of(table, rough.material, optic, second)
    except (ValueError, InputError) as error:
        raise InputError(f"{where}: {error}") from None
    body = table.body_colour
    cleavage = [direction(stated, "cleavage", k) for k, stated in enumerate(table.cleavage)]
    # Where the file states no faces but uses a found one, all found flats become reference faces.
    found = named_faces.flats() if named_faces.used and not faces else named_faces.used.values()
    return replace(
        rough, zones=zones, flaws=flaws, repairs=(*rough.repairs, *mended),
        reference_faces=(*faces, *found),
        optic_axis=optic,
        growth_axis=direction(table.growth_axis, "growth_axis"),
        second_axis=second,
        body_colour=None if body is None else body.as_colour(NOT_STATED[0]),
        cleavage=tuple(normal for normal in cleavage if normal is not None),
        notes=(*rough.notes, *dict.fromkeys(named_faces.notes)),
    )  # fmt: skip


def _named_faces(
    rough: Rough, table: RoughTable, faces: tuple[ReferenceFace, ...], where: str
) -> NamedFaces:
    named = {face.name: face.plane for face in faces}
    notes: list[str] = []

    @cache
    def flats() -> tuple[ReferenceFace, ...]:
        from optimizer.rough.flats.find import flats_of

        return flats_of(rough)

    if table.rests_on is not None:
        with _named_cause(where, ("rests_on",)):
            down = NamedFaces(named, flats).direction(table.rests_on)
            named[PLATE] = resting_plane(rough.mesh, down)
        way = ", ".join(f"{plain(round(float(x), 3) + 0.0)}" for x in named[PLATE].normal)
        notes.append(f"the plate that the piece rests on faces ({way}) away from the piece")
    return NamedFaces(named, flats, notes)


def _zone(rough: Rough, table: ZoneTable, named_faces: NamedFaces, where: str, number: int) -> Zone:
    with _named_cause(where, ("zones", number), is_table=True):
        zone = (
            zone_of_colours(rough, table, named_faces)
            if table.from_colours
            else table.as_zone(named_faces)
        )
        refuse_vast_ball(zone.boundary, rough.mesh.vertices)
        return zone


def stated_flaws(
    rough: Rough,
    tables: Sequence[FlawTable],
    named_faces: NamedFaces,
    folder: Path,
    where: str,
    first: int = 0,
) -> tuple[tuple[Flaw, ...], list[Repair]]:
    """The flaws, with their shapes in mm where they name a mesh, and what was mended in the meshes.

    ``first`` is the number of the first table in its file, counted from 0.
    """
    flaws, mended = [], []
    for number, table in enumerate(tables, first):
        mesh, inner = None, None
        if table.mesh is not None:
            with _named_cause(where, ("flaws", number, "mesh")):
                scan = read_mesh(folder / table.mesh)
                solid = unchanged_solid(scan, rough.mm_per_unit, Path(table.mesh).name)
            mesh, inner = solid.mesh, inner_point(solid.mesh)
            mended += [
                replace(repair, sentence=f'flaw "{table.name}": {repair.sentence}')
                for repair in solid.repairs
            ]
        with _named_cause(where, ("flaws", number), is_table=True):
            flaw = table.as_flaw(named_faces, rough.material, mesh, inner)
            seen = table.window is not None
            if seen and outside(flaw, as_solid(rough.mesh), rough.mesh.vertices):
                raise ValueError(
                    "comes out beyond the piece, clearance and all, but what is seen inside lies "
                    "inside: check apparent_depth_mm, point_mm and the window; "
                    f"{named_faces.notes[-1]}"
                )
            flaws.append(flaw)
    return tuple(flaws), mended


@contextmanager
def _named_cause(where: str, place: Place, is_table: bool = False) -> Iterator[None]:
    """Add to an error the file and the place in it where the cause stands."""
    words = place_words(place, is_table)
    try:
        yield
    except InputError as error:
        raise InputError(f"{where}: {words}: {error}") from None
    except ValueError as error:
        raise InputError(f"{where}: {words} {error}") from None
