"""How a stone looks: its figures upright and rocked, and its mean colours."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from optimizer.colours import as_hex, encoded, lab
from optimizer.design.model import Body
from optimizer.mesh import Floats
from optimizer.optics.colouring import Colouring
from optimizer.optics.eye import frame_of, mirrored_lattice, rocked
from optimizer.optics.face import Face, face_of, incoming_light
from optimizer.optics.figures import LightFigures, ZoneFigures, light_figures, zone_figures
from optimizer.optics.kernels.rays import RefractingBody
from optimizer.optics.lights import LIGHTS
from optimizer.optics.paths import refracting_body
from optimizer.optics.refraction import index_at
from optimizer.optics.shading import bands
from optimizer.trade.materials import Material

ROCK_DEG = (-20.0, -10.0, 10.0, 20.0)  # about either axis
UPRIGHT = (0.0, 0.0)
TURNS = (UPRIGHT, *((deg, 0.0) for deg in ROCK_DEG), *((0.0, deg) for deg in ROCK_DEG))
FEW_TURNS = (UPRIGHT, *((deg, 0.0) for deg in (-20.0, 20.0)), *((0.0, d) for d in (-20.0, 20.0)))
PLACES = 4000  # of the rectangle around a face, for figures
FEW_PLACES = 1500
UPRIGHT_PLACES = 16_000  # the face as it is told: share and balance within about 0.005
_LEAST = 1e-3  # share of a ray: less does not change the figures

Turn = tuple[float, float]  # degrees about the room's x and y axes


@dataclass(frozen=True)
class CutStone:
    """A stone to look at: ``body`` of ``width`` mm, of a species."""

    body: Body
    width: float
    material: Material

    def face(self, places: Floats, turn: Turn, count: int, *, least: float = _LEAST) -> Face:
        """Traced at ``places`` (n, 2) mm of the room, in ``count`` bands of the spectrum.

        Raises InputError where the species has no refractive index listed.
        """
        parts = bands(count)
        bodies = tuple(self.refracting(band.nm) for band in parts)
        return face_of(bodies, parts, places, rocked(*turn), least=least)

    def refracting(self, nm: float) -> RefractingBody:
        """The stone in mm of its own frame, with its refractive index at a wavelength in nm.

        Raises InputError where the species has no refractive index listed.
        """
        planes = self.body.normals, self.body.offsets_at(self.width)
        return refracting_body(*planes, index_at(self.material, nm))

    @property
    def corners(self) -> Floats:
        """(k, 3) mm, stone frame."""
        return self.body.vertices_at(self.width)


@dataclass(frozen=True)
class TurnFigures:
    """The figures at one turn; ``zone`` is that of the first colour, None without a boundary."""

    turn: Turn
    light: LightFigures
    zone: ZoneFigures | None


@dataclass(frozen=True)
class Tone:
    """The mean colour of a face that is all of one dye, under an open sky, without gloss: sRGB
    ``#rrggbb``, CIELAB lightness and chroma."""

    name: str
    srgb: str
    lightness: float
    chroma: float


@dataclass(frozen=True)
class Look:
    """The figures of a stone at each turn, upright first, then rocked."""

    colouring: Colouring
    by_turn: tuple[TurnFigures, ...]
    tones: tuple[Tone, ...]

    @property
    def upright(self) -> TurnFigures:
        """The figures from straight above."""
        return self.by_turn[0]

    def span(self, figure: Callable[[TurnFigures], float]) -> tuple[float, float]:
        """The least and the greatest value of a figure over all turns."""
        values = [figure(one) for one in self.by_turn]
        return min(values), max(values)


def look_at(
    cut: CutStone, colouring: Colouring, *, places: int = PLACES, turns: tuple[Turn, ...] = TURNS,
    upright_places: int | None = None,
) -> Look:  # fmt: skip
    """The figures of a stone at each of ``turns``, upright first, under an open sky: at ``places``
    of the face, upright at ``upright_places`` where these are given.

    Raises InputError where the species has no refractive index listed.
    """
    counts = [upright_places or places, *[places] * (len(turns) - 1)]
    found = [_at_turn(cut, colouring, n, turn) for n, turn in zip(counts, turns, strict=True)]
    return Look(colouring, tuple(figures for figures, _ in found), found[0][1])


def _at_turn(
    cut: CutStone, colouring: Colouring, places: int, turn: Turn
) -> tuple[TurnFigures, tuple[Tone, ...]]:
    low, high = frame_of(cut.corners, rocked(*turn))
    face = cut.face(mirrored_lattice(low, high, places), turn, 1)
    light = incoming_light(face, LIGHTS["open sky"])
    whole = [colouring.wholly(face, light, tint) for tint in colouring.tints]
    zone = None
    if colouring.two:
        zone = zone_figures(face, colouring.colours(face, light), *whole)
    tones = tuple(
        _tone(tint.name, colours[face.hit].mean(axis=0))
        for tint, colours in zip(colouring.tints, whole, strict=True)
    )
    return TurnFigures(turn, light_figures(face), zone), tones


def _tone(name: str, mean: Floats) -> Tone:
    lightness, a, b = (float(part) for part in lab(np.maximum(mean, 0.0)))
    return Tone(name, as_hex(encoded(mean)), lightness, float(np.hypot(a, b)))
