"""A face sampled by beams: one place in each piece that a grid of squares cuts from its beams."""

import numpy as np

from optimizer.mesh import Floats
from optimizer.optics.beams import beams_of
from optimizer.optics.dye import Dye
from optimizer.optics.eye import frame_of
from optimizer.optics.face import Face, incoming_light
from optimizer.optics.kernels.pixels import pixel_pieces
from optimizer.optics.lights import LIGHTS
from optimizer.optics.look import CutStone
from optimizer.optics.pixels import USUAL
from optimizer.optics.plane_shares import PlaneShares
from optimizer.optics.shading import bands

SQUARES = 4000  # over the rectangle around the face: share and balance are then within 0.01
_FINEST = 0.1  # of a square: a beam that brings less light is split no more
_TURN = 0.55  # radians between the grid and the stone, so that no boundary runs along a row


def beam_face(cut: CutStone, squares: int = SQUARES) -> tuple[Face, Floats]:
    """(the face from straight above in one band, the area (n,) that each place stands for, mm²).

    All rays of a piece meet the same facets, so the colour changes smoothly over the piece, and the
    ray through its middle shows about the mean. Raises InputError where the species has no
    refractive index listed.
    """
    cos, sin = np.cos(_TURN), np.sin(_TURN)
    room = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
    side = float(np.sqrt(np.prod(np.subtract(*frame_of(cut.corners, np.eye(3))[::-1])) / squares))
    reach = np.abs(np.array(frame_of(cut.corners, room))).max(axis=0)
    columns, rows = (2 * int(np.ceil(end / side)) for end in reach)
    half = np.array([columns, rows]) * side / 2.0
    (band,) = bands(1)
    beams = beams_of(
        cut.refracting(band.nm), room, -half, half, finest=_FINEST * side**2, least=USUAL.least
    )
    region, _, area, middle = pixel_pieces(
        beams.outline, beams.outline_start, -half[0], half[1], side, rows, columns
    )
    paths, _ = beams.paths(region, middle)
    return Face((band,), (paths,), room, middle), area


def beam_shares(cut: CutStone, towards: Dye, away: Dye, squares: int = SQUARES) -> PlaneShares:
    """The shares that the face shows of two dyes, for any flat boundary, under an open sky."""
    face, areas = beam_face(cut, squares)
    (light,) = incoming_light(face, LIGHTS["open sky"])
    return PlaneShares.of(face, light, towards, away, areas)
