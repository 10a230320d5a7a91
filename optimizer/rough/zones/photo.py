"""The colour of a slice of stone from a photo of it lying on white paper."""

import warnings
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from optimizer.colours import apart, as_hex, decoded, encoded
from optimizer.files.reading import PHOTO, read_file
from optimizer.mesh import Floats
from optimizer.running.memory import refuse_large_photo

PASSES = 2  # light goes through the slice to the paper and back
_RIM, _MIDDLE = 0.05, 1.0 / 3.0  # of the photo's sides: what is paper, what is stone
_DARK, _WHITE = 0.15, 0.99  # linear light: paper is brighter than the first; above, overexposed
_LOST_SHARE = 0.5  # of the paper that may be overexposed
_UNEVEN, _PATCHY = 8.0, 12.0  # ΔE from the mean that half of the rim, or of the middle, may have
_LEAST_DOTS = 30  # a side
_MOST_DOTS = 100_000_000  # some 3 GB of memory
_FORMATS = ("JPEG", "PNG", "TIFF", "WEBP", "BMP")  # others may start programs, as EPS does

Dots = NDArray[np.uint8]


@dataclass(frozen=True)
class SliceColour:
    """sRGB ``#rrggbb`` of the slice against the paper, and what is doubtful about it."""

    srgb: str
    doubts: tuple[str, ...]


def slice_colour(path: Path) -> SliceColour:
    """The colour of the slice in the middle of a photo, its white point from the paper at the rim.

    The middle third either way is the slice: its mean in linear light, divided by the median of
    the outer twentieth all round. Colours are taken through the photo's own profile to sRGB.
    Raises ValueError where the photo can't be read or its rim is no white paper.
    """
    dots = _dots(path)
    rows, columns = dots.shape[:2]
    if min(rows, columns) < _LEAST_DOTS:
        raise ValueError(f"is {columns} by {rows} dots, too few to tell paper from stone")
    rim, middle = (decoded(part / 255.0) for part in _parts(dots))
    paper = np.median(rim, axis=0)
    if paper.min() < _DARK:
        raise ValueError(
            f"has no white paper at its rim, but {as_hex(encoded(paper))}: let plain paper show "
            "all round the slice, in even light"
        )
    if np.median(apart(rim, paper)) > _UNEVEN:
        raise ValueError(
            "has a rim that is not evenly white: let plain paper show all round the slice"
        )
    stone = middle.mean(axis=0)
    shown = np.minimum(stone / paper, 1.0)
    return SliceColour(as_hex(encoded(shown)), tuple(_doubts(rim, middle, stone)))


def _doubts(rim: Floats, middle: Floats, stone: Floats) -> list[str]:
    said = []
    if (rim.max(axis=1) > _WHITE).mean() > _LOST_SHARE:
        said.append("the paper is overexposed, so the slice may be darker than it seems")
    if np.median(apart(middle, stone)) > _PATCHY:
        said.append("the slice is patchy in the middle of the photo")
    return said


def _parts(dots: Dots) -> tuple[Dots, Dots]:
    """(rim, middle), each (k, 3)."""
    rows, columns = dots.shape[:2]
    edge = max(1, round(_RIM * min(rows, columns)))
    at_rim = np.ones((rows, columns), bool)
    at_rim[edge:-edge, edge:-edge] = False
    low = [round(side * (1.0 - _MIDDLE) / 2.0) for side in (rows, columns)]
    middle = dots[low[0] : rows - low[0], low[1] : columns - low[1]]
    return dots[at_rim], middle.reshape(-1, 3)


def _dots(path: Path) -> Dots:
    """sRGB values (rows, columns, 3)."""
    from PIL import Image, UnidentifiedImageError

    data = BytesIO(read_file(path, PHOTO))
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # we count ourselves
            opened = Image.open(data, formats=_FORMATS)
        if opened.width * opened.height > _MOST_DOTS:
            raise Image.DecompressionBombError
        refuse_large_photo(opened.width * opened.height, path.name)
        opened.load()
    except UnidentifiedImageError:
        kinds = ", ".join(_FORMATS)
        raise ValueError(f"names {path.name}, which is no picture that is read: {kinds}") from None
    except Image.DecompressionBombError:
        raise ValueError(
            f"names {path.name}, which has over {_MOST_DOTS:,} dots; save it smaller"
        ) from None
    except (OSError, SyntaxError) as error:
        reason = " ".join(str(error).split())
        raise ValueError(f"names {path.name}, which can't be read: {reason}") from None
    return np.asarray(_in_srgb(opened))


def _in_srgb(image: Any) -> Any:
    """Through the photo's own colour profile, where it has one."""
    from PIL import ImageCms

    if image.mode in ("RGBA", "LA", "PA") and image.convert("RGBA").getextrema()[3][0] < 255:
        raise ValueError("is transparent in part: take a photo with the paper in it")
    if image.mode not in ("RGB", "RGBA", "P", "PA", "L", "LA"):
        raise ValueError(f"is a picture of mode {image.mode}: save it as RGB of 8 bits a channel")
    plain, profile = image.convert("RGB"), image.info.get("icc_profile")
    if not profile:
        return plain
    try:
        own = ImageCms.ImageCmsProfile(BytesIO(profile))
        return ImageCms.profileToProfile(plain, own, ImageCms.createProfile("sRGB"))
    except (ImageCms.PyCMSError, OSError):
        raise ValueError("has a colour profile that can't be used: save it as sRGB") from None
