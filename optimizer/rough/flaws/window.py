"""A flaw seen through a flat polished window: where it lies, by refraction."""

import numpy as np

from optimizer.mesh import Floats, Plane

ALONG_DEG = 80.0  # from the normal: a flatter look shows next to nothing


def behind_window(
    window: Plane, entry: Floats, apparent_mm: float, index: float, look: Floats | None = None
) -> Floats:
    """The true place (3,) of what is seen at ``apparent_mm`` below a window.

    ``window``'s normal points out of the piece; the line of sight, along ``look`` (3,) of any
    length, square to the window where None, meets it at ``entry`` (3,), which is first brought on
    to its plane. ``apparent_mm`` is the depth where the straight line of sight meets the normal
    through the thing seen. By Snell's law with inner angle b and outer a the true depth is then
    apparent·tan a/tan b, exactly, and apparent·index for a look square to the window.
    Raises ValueError where the look does not go into the piece, or runs along the window.
    """
    into = -window.normal
    foot = entry + (window.offset - window.normal @ entry) * window.normal
    if look is None:
        return np.asarray(foot + index * apparent_mm * into)
    look = look / np.linalg.norm(look)
    if look @ into < np.cos(np.radians(ALONG_DEG)):
        raise ValueError(
            "has a line of sight (sight) that does not go into its window, or more than "
            f"{ALONG_DEG:g} degrees off square to it"
        )
    along = look - (look @ into) * into
    sine = float(np.linalg.norm(along)) / index
    tangents = (along / index) / np.sqrt(1.0 - sine**2)  # tan b, along the window
    straight = along / (look @ into)  # tan a
    if np.linalg.norm(straight) < 1e-9:
        return np.asarray(foot + index * apparent_mm * into)
    depth = apparent_mm * float(np.linalg.norm(straight) / np.linalg.norm(tangents))
    return np.asarray(foot + depth * (into + tangents))
