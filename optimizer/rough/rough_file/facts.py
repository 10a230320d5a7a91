"""What is known of a piece before its scan is read, so that wrong names are refused at once."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from optimizer.errors import InputError, nearest
from optimizer.files.border import Place, place_words
from optimizer.rough.flats.named_faces import PLATE
from optimizer.rough.formats.read import refuse_unread
from optimizer.rough.formats.scan_size import least_triangles
from optimizer.rough.rough_file.source import DEFAULT_MATERIAL
from optimizer.rough.rough_file.table import RoughTable, check_table, read_rough_file
from optimizer.running.memory import refuse_too_many
from optimizer.trade.materials import Material, load_material

_FOUND = re.compile(r"flat \d+")  # the names that flat places found on the scan get
_NAMING = ("parallel_to", "window", "square_to")  # keys whose value is the name of a face


@dataclass(frozen=True)
class Facts:
    """The scan's path, the table of its rough file or the order's [rough] table, where the table
    was read, and the species."""

    scan: Path
    table: RoughTable | None
    where: str
    material: Material

    @property
    def least_triangles(self) -> int:
        """Of the scan; 0 of readings, and where nothing is known."""
        measured = self.table is not None and self.table.measured is not None
        return 0 if measured else least_triangles(self.scan)

    @property
    def zones(self) -> dict[str, tuple[str, str]]:
        """The two colours of each boundary, by its name."""
        zones = () if self.table is None else self.table.zones
        return {zone.name: (zone.away.colour, zone.towards.colour) for zone in zones}


def read_facts(path: Path, rough_table: Mapping[str, Any] | None = None) -> Facts:
    """The facts about the piece that ``path`` describes, as ``load_rough`` takes them.

    Raises InputError where they are bad, where they name a species, face or file that doesn't
    exist, or where the scan is no file.
    """
    scan, table, where = _found(path, rough_table)
    if table is not None:
        _refuse_unknown_faces(table, where)
        _refuse_missing_meshes(table, path.parent, where)
    facts = Facts(scan, table, where, _material(table, where))
    refuse_too_many(facts.least_triangles, scan.name)
    return facts


def _found(
    path: Path, rough_table: Mapping[str, Any] | None
) -> tuple[Path, RoughTable | None, str]:
    """(the scan's path, what is known about the piece, where that was read)."""
    if path.suffix.lower() != ".toml":
        table, where = _of_order(path, rough_table)
        refuse_unread(path)
        return path, table, where
    if rough_table is not None:
        raise InputError(
            f"{path.name}: a rough file and a [rough] table in the order are both given; keep one"
        )
    table = read_rough_file(path)
    if table.measured is not None:
        return path, table, path.name
    scan = path.parent / str(table.scan)
    if scan.suffix.lower() == ".toml":
        raise InputError(f'{path.name}: key "scan" names a TOML file; name the mesh itself')
    try:
        refuse_unread(scan)
    except InputError as error:
        raise InputError(f'{path.name}: key "scan": {error}') from None
    return scan, table, path.name


def _of_order(path: Path, rough_table: Mapping[str, Any] | None) -> tuple[RoughTable | None, str]:
    if rough_table is None:
        return None, path.name
    where = "the order's [rough] table"
    table = check_table(rough_table, where)
    for key in ("scan", "measured"):
        if getattr(table, key) is not None:
            raise InputError(f'{where}: key "{key}" is for a rough file; the call names the mesh')
    return table, where


def _material(table: RoughTable | None, where: str) -> Material:
    if table is None:
        return load_material(DEFAULT_MATERIAL)
    try:
        return load_material(table.material)
    except InputError as error:
        raise InputError(f'{where}: key "material": {error}') from None


def _refuse_unknown_faces(table: RoughTable, where: str) -> None:
    """Raises InputError for the name of a face that the file doesn't state and that isn't one of
    the flats found on a scan. A measured form has faces of its own."""
    known = {face.name for face in table.reference_faces}
    known |= {PLATE} if table.rests_on is not None else set()
    if table.measured is not None:
        return
    for place, name in _faces_named(table.model_dump(exclude_unset=True, warnings=False)):
        if name not in known and not _FOUND.fullmatch(name):
            hint = nearest(name, known) if known else "state it in [[reference_faces]]"
            raise InputError(
                f'{where}: {place_words(place)} names the face "{name}", which the file does not '
                f'state; {hint} ("flat 1" and so on are the flat places found on the scan)'
            )


def _faces_named(value: Any, place: Place = ()) -> Iterator[tuple[Place, str]]:
    """Each name of a face in a rough file's table, and where it stands."""
    last = next((part for part in reversed(place) if isinstance(part, str)), "")
    if isinstance(value, list):
        for k, held in enumerate(value):
            yield from _faces_named(held, (*place, k))
    elif isinstance(value, dict):
        for key, held in value.items():
            if last.endswith("_mm"):  # a place, given by its depths below three faces
                yield place, key
            yield from _faces_named(held, (*place, key))
    elif isinstance(value, str) and (last in _NAMING or last == "along_edge"):
        yield place, value


def _refuse_missing_meshes(table: RoughTable, folder: Path, where: str) -> None:
    for k, flaw in enumerate(table.flaws):
        if flaw.mesh is not None:
            try:
                refuse_unread(folder / flaw.mesh)
            except InputError as error:
                place = place_words(("flaws", k, "mesh"))
                raise InputError(f"{where}: {place}: {error}") from None
