"""A face sampled by rays, for figures: in one band, under an open sky."""

from optimizer.optics.dye import Dye
from optimizer.optics.eye import frame_of, mirrored_lattice, rocked
from optimizer.optics.face import Face, incoming_light
from optimizer.optics.lights import LIGHTS
from optimizer.optics.look import UPRIGHT, CutStone, Turn
from optimizer.optics.plane_shares import PlaneShares

PLACES = 8000  # of the face: share and balance are then within about 0.01 of their limits


def ray_face(cut: CutStone, *, turn: Turn = UPRIGHT, places: int = PLACES) -> Face:
    """The face of ``cut``, rocked by ``turn``, at ``places`` that are the same in all its quarters.

    Raises InputError where the species has no refractive index listed.
    """
    low, high = frame_of(cut.corners, rocked(*turn))
    return cut.face(mirrored_lattice(low, high, places), turn, 1)


def ray_shares(face: Face, towards: Dye, away: Dye) -> PlaneShares:
    """The shares that ``face`` shows of two dyes, for any flat boundary, under an open sky."""
    (light,) = incoming_light(face, LIGHTS["open sky"])
    return PlaneShares.of(face, light, towards, away)
