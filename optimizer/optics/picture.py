"""Pictures of a stone's face, sRGB bytes, on neutral grey."""

from io import BytesIO

import numpy as np
from numpy.typing import NDArray

from optimizer.colours import decoded, encoded
from optimizer.mesh import Floats
from optimizer.optics.colouring import Colouring
from optimizer.optics.eye import frame_of, rocked
from optimizer.optics.lights import Light
from optimizer.optics.look import ROCK_DEG, TURNS, UPRIGHT, CutStone, Turn
from optimizer.optics.pixels import PixelGrid, render_face

Picture = NDArray[np.uint8]  # (rows, columns, 3)

ACROSS = 512  # pixels of a picture, the longer way
SMALL = 96  # of each view of a rocked strip
_BANDS, _FEW_BANDS = 3, 1  # of the spectrum; small pictures don't show dispersion
_GROUND = 0.86  # sRGB
_MARGIN = 0.03  # on each side, as a share of the stone's longest extent


def face_picture(
    cut: CutStone, colouring: Colouring, light: Light, *, turn: Turn = UPRIGHT, across: int = ACROSS
) -> Picture:
    """The face with the gloss of its outer surface, ``across`` pixels the longer way. All turns
    have one scale."""
    half = _frame(cut)
    side = 2.0 * float(half.max()) / across
    columns, rows = (min(across, 2 * round(long / side)) for long in half)
    grid = PixelGrid(-side * columns / 2.0, side * rows / 2.0, side, rows, columns)
    count = _BANDS if across > SMALL else _FEW_BANDS
    linear, covered = render_face(cut, colouring, light, grid, turn=turn, count=count)
    ground = float(decoded(np.array(_GROUND)))
    linear += ground * (1.0 - covered[..., None])
    return np.rint(255.0 * encoded(linear)).astype(np.uint8)


def rocked_strip(
    cut: CutStone, colouring: Colouring, light: Light, *, across: int = SMALL
) -> Picture:
    """Small views of the stone turned about the room's x axis, and below them about its y axis, by
    the degrees of ``ROCK_DEG`` from left to right, upright in the middle."""
    views = {turn: face_picture(cut, colouring, light, turn=turn, across=across) for turn in TURNS}
    degrees = sorted((*ROCK_DEG, 0.0))
    rows = ([(deg, 0.0) for deg in degrees], [(0.0, deg) for deg in degrees])
    return np.vstack([np.hstack([views[turn] for turn in row]) for row in rows])


def whole_picture(cut: CutStone, colouring: Colouring, light: Light, *, rock: bool) -> Picture:
    """The face, and with ``rock`` the strip below it."""
    face = face_picture(cut, colouring, light)
    if not rock:
        return face
    strip = rocked_strip(cut, colouring, light)
    columns = max(face.shape[1], strip.shape[1])
    return np.vstack([_centred(face, columns), _centred(strip, columns)])


def _centred(picture: Picture, columns: int) -> Picture:
    """The picture in the middle of ground ``columns`` wide."""
    free = columns - picture.shape[1]
    sides = ((0, 0), (free // 2, free - free // 2), (0, 0))
    return np.pad(picture, sides, constant_values=round(255 * _GROUND))


def png(picture: Picture) -> bytes:
    """As a PNG file."""
    from PIL import Image

    out = BytesIO()
    Image.fromarray(picture).save(out, "PNG", optimize=False)
    return out.getvalue()


def _frame(cut: CutStone) -> Floats:
    """Half the width and height (2,) mm that hold the stone at every turn, with the margin."""
    ends = [np.abs(np.array(frame_of(cut.corners, rocked(*turn)))).max(axis=0) for turn in TURNS]
    reach = np.max(ends, axis=0)
    return np.asarray(reach + 2.0 * _MARGIN * reach.max())
