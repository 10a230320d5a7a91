"""The species table: the stone's material, and the cautions for working it."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from optimizer.errors import InputError, nearest

Range = tuple[float, float]

_TABLE = Path(__file__).with_suffix(".toml")

# Common practice, no source.
_FOR_EVERY_STONE = (
    "Saw, grind and polish wet, never dry, and do not breathe dust or spray from any stone.",
    "Wear eye protection, and keep fingers away from the blade by a holder.",
    "Wear no gloves or loose sleeves at a blade or lap.",
    "Run wet machines on a residual-current breaker.",
    "Lead laps, and minerals that bear lead, mercury or arsenic, are poisonous: keep their sludge "
    "off skin and food and follow local codes for getting rid of it.",
    "Keep solvents away from any flame and use them in fresh air.",
    "Cyanoacrylate heats and fumes on paper or cotton, and gives harsh fumes in a flame.",
    "Let every glue cure as its product sheet says before the stone is loaded.",
    "Warm and cool a stone slowly: thermal shock cracks it, and so does cold solvent on a hot "
    "stone.",
    "These are reminders only: product sheets, local codes and trained people come first.",
)


@dataclass(frozen=True)
class Material:
    """One species, as gem-cutting handbooks list it. The values are typical; natural stones vary
    more.

    Ranges are (least, greatest); equal ends are a single listed value. None or "" means that no
    value is listed. ``sources`` gives the source of each column's value, by the column's name.
    """

    name: str
    sg: float  # g/cm³, the value that weights are computed with
    sg_range: Range
    origin: str = "natural"  # "natural" | "laboratory-grown"
    process: str = ""  # "flame fusion"; "" where the growth process needs no special care
    ri: Range | None = None
    birefringence: Range | None = None
    dispersion: Range | None = None  # refractive index at the G line minus that at the B line
    mohs: Range | None = None
    trade_names: tuple[str, ...] = ()  # words of the trade for the species or varieties of it
    cleavage: str = ""
    mains_deg: Range | None = None  # usual angles of the pavilion mains
    heat: str = ""  # "steady" | "sensitive", also to what or where
    pleochroism: str = ""  # "none" | "weak" | "distinct" | "strong", also where | "not known"
    cautions: tuple[str, ...] = ()
    sources: Mapping[str, str] = field(default_factory=dict)

    @property
    def basal_cleavage(self) -> bool:
        """Whether the one cleavage listed is basal: square to the crystal's c axis."""
        return self.cleavage.endswith(" basal")


def load_material(name: str) -> Material:
    """The species called ``name``, in the table or in the trade, in small or capital letters.
    Raises InputError with the nearest name where there is none."""
    word = name.lower()
    species = _species_by_trade_name().get(word, word)
    if species not in _table():
        hint = nearest(word, _table(), _species_by_trade_name())
        raise InputError(f'material "{name}" is not in the species table; {hint}')
    return _table()[species]


def own_sg_range(material: Material) -> Range | None:
    """The piece's own range of specific gravity, around the value that weights are computed with;
    None where the piece has only the species' range."""
    if material.sg_range == load_material(material.name).sg_range:
        return None
    off = max(abs(end - material.sg) for end in material.sg_range)
    return material.sg - off, material.sg + off


def cautions_for(material: Material) -> tuple[str, ...]:
    """Short cautions as plain sentences, the species' own first (common practice, no source)."""
    return (*species_cautions(material), *_FOR_EVERY_STONE)


def species_cautions(material: Material) -> tuple[str, ...]:
    """The cautions of the species: those in the table, and those that follow from its columns."""
    return (*material.cautions, *_by_column(material))


def _by_column(material: Material) -> tuple[str, ...]:
    said = []
    if material.cleavage.startswith("perfect"):
        said.append(
            f"Cleavage is {material.cleavage}: no knocks or sudden heat, and no facet within about "
            "5 degrees of a cleavage plane."
        )
    if material.pleochroism.startswith("strong"):
        said.append(
            "Its colour differs strongly with the direction of sight: look through the piece along "
            "each axis before you lay the table."
        )
    if material.heat == "sensitive":
        said.append("Heat cracks or alters it: use a cold-setting glue and keep the laps wet.")
    if material.heat == "sensitive to sudden change":
        said.append(
            "A sudden change of heat cracks it: warm and cool it slowly, on the dop as well."
        )
    return tuple(said)


@cache
def _species_by_trade_name() -> Mapping[str, str]:
    return {word: name for name, material in _table().items() for word in material.trade_names}


@cache
def _table() -> Mapping[str, Material]:
    data = tomllib.loads(_TABLE.read_text(encoding="utf-8"))
    return {
        name: _material(name, entry, data["sources"]) for name, entry in data["species"].items()
    }


def _material(name: str, entry: Mapping[str, Any], sources: Mapping[str, str]) -> Material:
    columns = {key: value for key, value in entry.items() if isinstance(value, dict)}
    ranges = {key: _pair(col["range"]) for key, col in columns.items() if "range" in col}
    texts = {key: str(col["text"]) for key, col in columns.items() if "text" in col}
    return Material(
        name=name,
        sg=columns["sg"]["typical"],
        sg_range=ranges["sg"],
        origin=entry["origin"],
        process=entry.get("process", ""),
        ri=ranges["ri"],
        birefringence=ranges["birefringence"],
        dispersion=ranges.get("dispersion"),
        mohs=ranges["mohs"],
        trade_names=tuple(entry.get("trade_names", {}).get("words", ())),
        cleavage=texts["cleavage"],
        mains_deg=ranges.get("mains_deg"),
        heat=texts["heat"],
        pleochroism=texts["pleochroism"],
        cautions=tuple(entry.get("cautions", ())),
        sources={key: sources[col["source"]] for key, col in columns.items()},
    )


def _pair(values: tuple[float, float]) -> Range:
    low, high = values
    return float(low), float(high)
