"""The photos that a rough file names, read as colours."""

from pathlib import Path
from typing import TypeVar

from optimizer.errors import InputError
from optimizer.files.border import Place, place_words
from optimizer.rough.rough_file.table import RoughTable
from optimizer.rough.zones.colour_table import BodyColourTable, SliceTable
from optimizer.rough.zones.photo import PASSES, slice_colour
from optimizer.wording.plain_number import plain

AnyColour = TypeVar("AnyColour", bound=BodyColourTable)


def with_photos(
    table: RoughTable | None, folder: Path, where: str
) -> tuple[RoughTable | None, tuple[str, ...]]:
    """``table`` with each photo of a slice read as the colour of twice its thickness, and what was
    read, in sentences. Raises InputError, prefixed by ``where``."""
    if table is None:
        return None, ()
    notes: list[str] = []

    def read(one: SliceTable, place: Place) -> SliceTable:
        if one.photo is None:
            return one
        try:
            found = slice_colour(folder / one.photo)
        except InputError as error:
            raise InputError(f"{where}: {place_words((*place, 'photo'))}: {error}") from None
        except ValueError as error:
            raise InputError(f"{where}: {place_words((*place, 'photo'))} {error}") from None
        doubts = "".join(f"; {doubt}" for doubt in found.doubts)
        notes.append(
            f"{Path(one.photo).name}: {plain(one.mm)} mm on white paper look {found.srgb}, which "
            f"is taken for the colour of {plain(PASSES * one.mm)} mm, as light passes twice{doubts}"
        )
        return SliceTable(mm=PASSES * one.mm, srgb=found.srgb)

    def colour(side: AnyColour, *place: str | int) -> AnyColour:
        slices = [read(one, (*place, "slices", k)) for k, one in enumerate(side.slices)]
        return side.model_copy(update={"slices": slices})

    zones = [
        zone.model_copy(
            update={
                side: colour(getattr(zone, side), "zones", number, side)
                for side in ("towards", "away")
            }
        )
        for number, zone in enumerate(table.zones)
    ]
    body = None if table.body_colour is None else colour(table.body_colour, "body_colour")
    return table.model_copy(update={"zones": zones, "body_colour": body}), tuple(notes)
