"""Colour boundaries in rough files: [[zones]], and writing them."""

from optimizer.border import OneLine, Table
from optimizer.rough.face_table import FaceTable, plane_lines
from optimizer.rough.keys import Srgb, toml_lines
from optimizer.rough.model import Colour, Zone

_NEUTRAL = ("#9a9a9a", "#e4e4e4")  # towards, away: greys that claim no colour


class ColourTable(Table):
    colour: OneLine
    srgb: Srgb | None = None


class ZoneTable(FaceTable):
    towards: ColourTable
    away: ColourTable

    def as_zone(self) -> Zone:
        sides = [
            Colour(side.colour, side.srgb or grey)
            for side, grey in zip((self.towards, self.away), _NEUTRAL, strict=True)
        ]
        return Zone(self.name, self.plane, *sides)


def zone_lines(zone: Zone) -> list[str]:
    """The boundary as a table of a rough file."""
    sides = {"towards": zone.towards, "away": zone.away}
    colours = {key: {"colour": side.name, "srgb": side.srgb} for key, side in sides.items()}
    return ["", "[[zones]]", *plane_lines(zone.name, zone.plane), *toml_lines(colours)]
