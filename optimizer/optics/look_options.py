"""A stone to look at, from the options of the command line."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.design import build_body, load_design
from optimizer.errors import InputError
from optimizer.optics.boundary_forms import plane_form
from optimizer.optics.colouring import CLEAR_TINT, Colouring, Tint, one_colour, tint_of
from optimizer.optics.look import CutStone
from optimizer.optics.look_piece import piece_colouring, piece_line, refuse_unknown_boundary
from optimizer.rough.model import Colour, Rough, Slice
from optimizer.rough.rough_file.facts import Facts
from optimizer.rough.zones.colour_axes import refuse_one_axis
from optimizer.trade.materials import Material, load_material
from optimizer.wording.plain_number import plain

THICKEST_MM = 1000.0
USUAL_MATERIAL = "quartz"
MOST_DEG = 90.0  # of --tilt and --axis-to-table
MOST_AZIMUTH = 360.0


@dataclass(frozen=True)
class LookOptions:
    """The options of the command; None where one is not given."""

    design: str
    width: float
    material: str | None = None
    settings: Sequence[str] = ()
    colour: str | None = None
    towards: str | None = None
    away: str | None = None
    tilt: float | None = None
    azimuth: float | None = None
    offset: float | None = None
    axis_to_table: float | None = None
    zone: str | None = None

    @property
    def has_boundary(self) -> bool:
        """Whether a boundary's position is given."""
        return (self.tilt, self.azimuth, self.offset) != (None, None, None)

    @property
    def boundary(self) -> tuple[float, float, float]:
        """Tilt and azimuth in degrees, offset; 0 where not given."""
        return self.tilt or 0.0, self.azimuth or 0.0, self.offset or 0.0


def refuse_unknown_options(asked: LookOptions, facts: Facts) -> None:
    """Raise the InputErrors of ``stone_of_options`` that don't need the scan."""
    _of_piece(asked, facts.material)
    if asked.zone is not None:
        refuse_unknown_boundary(asked.zone, facts.zones, facts.scan.name)


def stone_of_options(
    asked: LookOptions, piece: Rough | None
) -> tuple[CutStone, Colouring, list[str]]:
    """The stone, its colouring, and the first lines to print; species and colours are those of
    ``piece`` where there is one.

    Raises InputError where an option is wrong or options contradict each other.
    """
    if piece is None:
        _in_range(asked)
        cut = _cut(asked, load_material(asked.material or USUAL_MATERIAL))
        return cut, _colouring(asked, cut), [_first_line(asked, cut)]
    cut = _of_piece(asked, piece.material)
    place = asked.boundary if asked.has_boundary else None
    colouring = piece_colouring(cut, piece, asked.zone, place, asked.axis_to_table)
    return cut, colouring, [_first_line(asked, cut), piece_line(piece, colouring)]


def _of_piece(asked: LookOptions, material: Material) -> CutStone:
    """The stone, of the species of a piece."""
    _in_range(asked)
    for option in ("material", "colour", "towards", "away"):
        if getattr(asked, option) is not None:
            raise InputError(f"--{option} and --piece both say what the stone is made of: drop one")
    return _cut(asked, material)


def _first_line(asked: LookOptions, cut: CutStone) -> str:
    return f"{asked.design} of {cut.material.name}, {plain(asked.width)} mm wide."


def _in_range(asked: LookOptions) -> None:
    def within(option: str, low: float, high: float, unit: str) -> None:
        value = getattr(asked, option.replace("-", "_"))
        if value is not None and not low <= value <= high:
            raise InputError(
                f"--{option} is {plain(value)}; give {unit}, {plain(low)} to {plain(high)}"
            )

    within("width", 0.1, 1000.0, "millimetres")
    within("tilt", -MOST_DEG, MOST_DEG, "degrees")
    within("azimuth", -MOST_AZIMUTH, MOST_AZIMUTH, "degrees")
    within("axis-to-table", 0.0, MOST_DEG, "degrees")
    within("offset", -1.0, 1.0, "a place in the stone")


def _cut(asked: LookOptions, material: Material) -> CutStone:
    body = build_body(load_design(asked.design), dict(_setting(text) for text in asked.settings))
    return CutStone(body, asked.width, material)


def _setting(text: str) -> tuple[str, float]:
    name, equals, value = text.partition("=")
    try:
        if not equals or not name.strip() or not math.isfinite(float(value)):
            raise ValueError
        return name.strip(), float(value)
    except ValueError:
        raise InputError(f'--set "{text}" is not NAME=NUMBER, such as crown=35') from None


def _colouring(asked: LookOptions, cut: CutStone) -> Colouring:
    """One colour, two with a boundary between them, or clear."""
    towards, away = asked.towards, asked.away
    if asked.zone is not None:
        raise InputError("--zone names a boundary of a rough file: give --piece too")
    if asked.colour is not None and (towards or away):
        raise InputError("--colour is for a stone of one colour; drop it, or --towards and --away")
    if (towards is None) != (away is None):
        missing = "--away" if away is None else "--towards"
        raise InputError(f"two colours meet at a boundary: give {missing} too")
    if asked.has_boundary and towards is None:
        raise InputError("--tilt, --azimuth and --offset lay a boundary: give --towards and --away")
    if towards is None or away is None:
        tint = CLEAR_TINT if asked.colour is None else _tint(asked.colour, "--colour", cut.material)
        colouring = one_colour(tint)
    else:
        forms = plane_form(cut.corners, *asked.boundary)
        pair = (_tint(towards, "--towards", cut.material), _tint(away, "--away", cut.material))
        colouring = Colouring(*pair, forms, zone="boundary")
    return _with_axis(colouring, asked.axis_to_table)


def _with_axis(colouring: Colouring, to_table_deg: float | None) -> Colouring:
    """The colouring with the crystal's axes: the optic axis above the stone's length, square to the
    table unless another angle is given; the second axis along the width."""
    if not any(tint.by_axis for tint in colouring.tints):
        if to_table_deg is not None:
            raise InputError(
                "--axis-to-table turns the optic axis: give one colour along that axis and one "
                "across it, such as 705040/a08070@5"
            )
        return colouring
    at = math.radians(MOST_DEG if to_table_deg is None else to_table_deg)
    optic, second = np.array([math.cos(at), 0.0, math.sin(at)]), np.array([0.0, 1.0, 0.0])
    axes = np.array([optic, second, np.cross(optic, second)])
    return Colouring(
        colouring.first, colouring.second, colouring.forms, axes=axes, zone=colouring.zone
    )


def _tint(text: str, option: str, material: Material) -> Tint:
    slices = [_slices(part, option) for part in text.split(",")]
    first = slices[0]
    if all(len(one) == 1 for one in slices):
        return tint_of(Colour(first[0].srgb, first[0].srgb, tuple(one for (one,) in slices)))
    if len(slices) > 1:
        raise InputError(f'{option} "{text}": give colours along the axes at one thickness only')
    refuse_one_axis(material, option)
    return tint_of(Colour("/".join(one.srgb for one in first), first[0].srgb, by_axis=first))


def _slices(text: str, option: str) -> tuple[Slice, ...]:
    """One colour, or the colours along two or three axes, at one thickness."""
    hexes = r"#?[0-9a-fA-F]{6}"
    match = re.fullmatch(rf"\s*({hexes}(?:/{hexes}){{0,2}})(?:@([0-9]*\.?[0-9]+))?\s*", text)
    mm = None if match is None or match[2] is None else float(match[2])
    if match is None or (mm is not None and not 0.0 < mm <= THICKEST_MM):
        raise InputError(
            f'{option} "{text}" is no colour: give sRGB and the mm that show it, such as 7a4fb0@5, '
            "several separated by commas, or one for each axis of the crystal, such as "
            "705040/a08070@5"
        )
    return tuple(Slice(f"#{one.lstrip('#').lower()}", mm) for one in match[1].split("/"))
