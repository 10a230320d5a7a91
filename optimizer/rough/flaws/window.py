"""A flaw seen through a flat polished window: where it lies, by refraction."""

import numpy as np

from optimizer.mesh import Floats, Plane
from optimizer.wording.plain_number import plain

ALONG_DEG = 80.0  # from the window's normal: at a flatter angle next to nothing is seen


def behind_window(
    window: Plane, entry: Floats, apparent_mm: float, index: float, look: Floats | None = None
) -> Floats:
    """The true place (3,) of a flaw that is seen ``apparent_mm`` below a window.

    The normal of ``window`` points out of the piece. The line of sight runs along ``look`` (3,), of
    any length, or square to the window where that is None. It meets the window at ``entry`` (3,),
    which is first moved on to the window's plane. ``apparent_mm`` is the depth at which the line of
    sight, drawn on straight, meets the normal through the flaw. By Snell's law, with a the angle
    outside and b the angle inside, the true depth is exactly apparent·tan a/tan b, or
    apparent·index for a look square to the window. Raises ValueError where the look does not go
    into the piece, or runs along the window.
    """
    into = -window.normal
    foot = entry + (window.offset - window.normal @ entry) * window.normal
    if look is None:
        return np.asarray(foot + index * apparent_mm * into)
    look = look / np.linalg.norm(look)
    if look @ into < np.cos(np.radians(ALONG_DEG)):
        raise ValueError(
            "has a line of sight (sight) that does not go into its window, or more than "
            f"{plain(ALONG_DEG)} degrees off square to it"
        )
    along = look - (look @ into) * into
    sine = float(np.linalg.norm(along)) / index
    tangents = (along / index) / np.sqrt(1.0 - sine**2)  # tan b, along the window
    straight = along / (look @ into)  # tan a
    if np.linalg.norm(straight) < 1e-9:
        return np.asarray(foot + index * apparent_mm * into)
    depth = apparent_mm * float(np.linalg.norm(straight) / np.linalg.norm(tangents))
    return np.asarray(foot + depth * (into + tangents))
