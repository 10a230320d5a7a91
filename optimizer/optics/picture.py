"""Pictures of a stone's face, sRGB bytes, on neutral grey."""

from io import BytesIO

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Floats
from optimizer.optics.colouring import Colouring
from optimizer.optics.eye import frame_of, pixels, rocked
from optimizer.optics.face import by_parts, gloss, lit
from optimizer.optics.lights import Light
from optimizer.optics.look import ROCK_DEG, TURNS, UPRIGHT, Cut, Turn
from optimizer.optics.observer import decoded, encoded

Picture = NDArray[np.uint8]  # (rows, columns, 3)

ACROSS = 512  # dots of a picture, the longer way
SMALL = 96  # of each view of a rocked strip
_BANDS, _FEW_BANDS = 3, 1  # small pictures don't show the spread of colours
_GROUND = 0.86  # sRGB
_MARGIN = 0.03  # free on each side, of the stone's longest extent
_ROUGH = 0.08  # sRGB: neighbours that differ by more are averaged over finer rays
_QUARTERS = np.array([[-1.0, -1.0], [-1.0, 1.0], [1.0, -1.0], [1.0, 1.0]]) / 4.0


def face_picture(
    cut: Cut, colouring: Colouring, light: Light, *, turn: Turn = UPRIGHT, across: int = ACROSS
) -> Picture:
    """The face with the gloss of its outer surface, ``across`` dots the longer way: each dot's
    middle traced; where neighbours differ much, the mean of four rays. All turns have one scale."""
    count = _BANDS if across > SMALL else _FEW_BANDS
    half = _frame(cut)
    side = 2.0 * float(half.max()) / across
    rows, columns = (min(across, 2 * round(long / side)) for long in half[::-1])
    square = pixels(-half, half, across).reshape(across, across, 2)
    top, left = (across - rows) // 2, (across - columns) // 2
    places = square[top : top + rows, left : left + columns].reshape(-1, 2)
    linear = _linear(cut, colouring, light, turn, places, count)
    rough = np.flatnonzero(_uneven(encoded(linear).reshape(rows, columns, 3)))
    finer = (places[rough, None] + side * _QUARTERS).reshape(-1, 2)
    if len(rough):
        rays = _linear(cut, colouring, light, turn, finer, count)
        linear[rough] = rays.reshape(-1, len(_QUARTERS), 3).mean(axis=1)
    return np.rint(255.0 * encoded(linear)).astype(np.uint8).reshape(rows, columns, 3)


def rocked_strip(cut: Cut, colouring: Colouring, light: Light, *, across: int = SMALL) -> Picture:
    """Small views of the stone turned about the room's x axis, and below them about its y axis, by
    the degrees of ``ROCK_DEG`` from left to right, upright in the middle."""
    views = {turn: face_picture(cut, colouring, light, turn=turn, across=across) for turn in TURNS}
    degrees = sorted((*ROCK_DEG, 0.0))
    rows = ([(deg, 0.0) for deg in degrees], [(0.0, deg) for deg in degrees])
    return np.vstack([np.hstack([views[turn] for turn in row]) for row in rows])


def whole_picture(cut: Cut, colouring: Colouring, light: Light, *, rock: bool) -> Picture:
    """The face, and with ``rock`` the strip below it."""
    face = face_picture(cut, colouring, light)
    if not rock:
        return face
    strip = rocked_strip(cut, colouring, light)
    columns = max(face.shape[1], strip.shape[1])
    return np.vstack([_centred(face, columns), _centred(strip, columns)])


def _centred(picture: Picture, columns: int) -> Picture:
    """Between equal parts of ground, ``columns`` wide."""
    free = columns - picture.shape[1]
    sides = ((0, 0), (free // 2, free - free // 2), (0, 0))
    return np.pad(picture, sides, constant_values=round(255 * _GROUND))


def png(picture: Picture) -> bytes:
    """As a PNG file."""
    from PIL import Image

    out = BytesIO()
    Image.fromarray(picture).save(out, "PNG", optimize=False)
    return out.getvalue()


def _frame(cut: Cut) -> Floats:
    """Half of what all turns need either way about the stone's axis, (2,) mm, with the margin."""
    ends = [np.abs(np.array(frame_of(cut.corners, rocked(*turn)))).max(axis=0) for turn in TURNS]
    reach = np.max(ends, axis=0)
    return np.asarray(reach + 2.0 * _MARGIN * reach.max())


def _linear(
    cut: Cut, colouring: Colouring, light: Light, turn: Turn, places: Floats, count: int
) -> Floats:
    """Linear sRGB (n, 3) at ``places`` (n, 2), the ground where there is no stone."""
    ground = float(decoded(np.array(_GROUND)))

    def some(part: Floats) -> Floats:
        face = cut.face(part, turn, count)
        colours = colouring.colours(face, lit(face, light)) + gloss(face, light)[:, None]
        return np.where(face.hit[:, None], colours, ground)

    return by_parts(some, places)


def _uneven(srgb: Floats) -> NDArray[np.bool_]:
    """Dots (rows, columns) that differ from one above, below or beside them."""
    uneven = np.zeros(srgb.shape[:2], bool)
    down = np.abs(np.diff(srgb, axis=0)).max(axis=2) > _ROUGH
    across = np.abs(np.diff(srgb, axis=1)).max(axis=2) > _ROUGH
    uneven[1:] |= down
    uneven[:-1] |= down
    uneven[:, 1:] |= across
    uneven[:, :-1] |= across
    return uneven
