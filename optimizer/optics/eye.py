"""Looking at a stone from above, upright or rocked: rays in the stone's own frame.

The room's frame: the eye far up along +z, +x to its right, +y up in the picture. Upright, the
stone's axes are the room's.
"""

import numpy as np

from optimizer.mesh import Floats

_PLASTIC = 1.32471795724474602596  # x³ = x + 1


def rocked(about_x_deg: float, about_y_deg: float) -> Floats:
    """Stone to room (3, 3): turned about the room's x axis, then about its y axis."""
    a, b = np.radians([about_x_deg, about_y_deg])
    about_x = np.array([[1, 0, 0], [0, np.cos(a), -np.sin(a)], [0, np.sin(a), np.cos(a)]])
    about_y = np.array([[np.cos(b), 0, np.sin(b)], [0, 1, 0], [-np.sin(b), 0, np.cos(b)]])
    return np.asarray(about_y @ about_x)


def frame_of(corners: Floats, stone2room: Floats) -> tuple[Floats, Floats]:
    """(low, high), each (2,) mm: the rectangle around the corners (k, 3) as the eye sees them."""
    seen = (corners @ stone2room.T)[:, :2]
    return seen.min(axis=0), seen.max(axis=0)


def lattice(low: Floats, high: Floats, count: int) -> Floats:
    """``count`` evenly spread places (n, 2) of a rectangle, by the plastic number's sequence
    (Roberts 2018). The places have no symmetry that could coincide with a stone's."""
    steps = np.array([1.0 / _PLASTIC, 1.0 / _PLASTIC**2])
    shares = (0.5 + np.arange(1, count + 1)[:, None] * steps) % 1.0
    return np.asarray(low + shares * (high - low))


def mirrored_lattice(low: Floats, high: Floats, count: int) -> Floats:
    """As ``lattice``, but with one quarter of the rectangle mirrored into the others. On a
    symmetric stone, both sides then have the same sampling errors, so their balance is exact."""
    middle = (low + high) / 2.0
    quarter = lattice(np.zeros(2), (high - low) / 2.0, max(count // 4, 1))
    signs = ((1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0))
    return np.concatenate([middle + quarter * np.array(sign) for sign in signs])


def pixel_centres(low: Floats, high: Floats, across: int) -> Floats:
    """Middles (across², 2) of pixels over the square around a rectangle, rows from the top."""
    middle, side = (low + high) / 2.0, float((high - low).max())
    steps = (np.arange(across) + 0.5) / across - 0.5
    x, y = np.meshgrid(middle[0] + side * steps, middle[1] - side * steps)
    return np.column_stack([x.ravel(), y.ravel()])


def rays_at(places: Floats, stone2room: Floats, far: float) -> tuple[Floats, Floats]:
    """Origins and directions (n, 3) in the stone's frame of rays straight down in the room at
    ``places`` (n, 2), from ``far`` above."""
    origins = np.column_stack([places, np.full(len(places), far)]) @ stone2room
    return origins, np.tile(-stone2room[2], (len(places), 1))
