"""A picture's pixels, each the mean over its whole square of what the face shows there."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from optimizer.mesh import Floats, Ints
from optimizer.optics.beams import Beams, beams_of
from optimizer.optics.colouring import Colouring
from optimizer.optics.eye import rocked
from optimizer.optics.face import Face
from optimizer.optics.kernels.pixels import pixel_pieces
from optimizer.optics.lights import Light
from optimizer.optics.look import CutStone, Turn
from optimizer.optics.shading import Band, bands
from optimizer.running.workers import workers

_BATCH = 2048  # pieces coloured at once: their paths then stay in the processor's cache


@dataclass(frozen=True)
class Precision:
    """How far beams are followed for a picture: by default as far as a picture can show.

    finest  light of a pixel: a beam that brings less is split no more
    least   share of a beam: less is not followed
    """

    finest: float = 0.3
    least: float = 1e-3


USUAL = Precision()


@dataclass(frozen=True)
class PixelGrid:
    """Square pixels of ``side`` mm, by rows from (``left``, ``top``) of the room to the right and
    down."""

    left: float
    top: float
    side: float
    rows: int
    columns: int

    @property
    def ends(self) -> tuple[Floats, Floats]:
        """(low, high), each (2,)."""
        right, foot = self.left + self.side * self.columns, self.top - self.side * self.rows
        return np.array([self.left, foot]), np.array([right, self.top])


@dataclass(frozen=True)
class _Pieces:
    """The pieces (k) that pixels cut from the regions of one band's beams.

    ``shine`` (n,) is the light that comes in at each node of ``beams``, ``middle`` (k, 2) the
    centre of each piece.
    """

    band: Band
    beams: Beams
    shine: Floats
    region: Ints
    pixel: Ints
    area: Floats
    middle: Floats

    @staticmethod
    def of(
        beams: Beams, band: Band, light: Light, stone2room: Floats, grid: PixelGrid
    ) -> "_Pieces":
        shine = beams.weight * light.radiance(beams.leaving @ stone2room.T)
        places = grid.left, grid.top, grid.side, grid.rows, grid.columns
        pieces = pixel_pieces(beams.outline, beams.outline_start, *places)
        return _Pieces(band, beams, shine, *pieces)

    def batches(self) -> Iterator["_Pieces"]:
        """The pieces, some at a time."""
        for first in range(0, len(self.pixel), _BATCH):
            few = slice(first, first + _BATCH)
            yield replace(
                self, region=self.region[few], pixel=self.pixel[few],
                area=self.area[few], middle=self.middle[few],
            )  # fmt: skip

    def regions(self) -> "_Pieces":
        """One piece for each region, whatever the pixels."""
        every = np.arange(len(self.beams.residual))
        return replace(self, region=every, middle=self.beams.inside)

    def colours(self, colouring: Colouring, stone2room: Floats) -> Floats:
        """Linear sRGB (k, 3) of the band's light, without gloss."""
        paths, node = self.beams.paths(self.region, self.middle)
        shine = self.shine[node]
        shine[paths.start[:-1]] = 0.0
        return colouring.colours(Face((self.band,), (paths,), stone2room, self.middle), (shine,))


def render_face(
    cut: CutStone, colouring: Colouring, light: Light, grid: PixelGrid,
    *, turn: Turn, count: int, precision: Precision = USUAL,
) -> tuple[Floats, Floats]:  # fmt: skip
    """Linear sRGB (rows, columns, 3) with gloss, dark beside the stone, and the part of each pixel
    that the stone covers (rows, columns).

    The spectrum is traced in ``count`` bands. Each piece that a pixel cuts from a region of like
    rays has the colour of its middle. Raises InputError where the species has no refractive index.
    """
    stone2room = rocked(*turn)
    finest, least = precision.finest * grid.side**2, precision.least

    beams = [
        beams_of(cut.refracting(band.nm), stone2room, *grid.ends, finest=finest, least=least)
        for band in bands(count)
    ]
    with workers() as pool:
        pieces_of = partial(_Pieces.of, light=light, stone2room=stone2room, grid=grid)
        by_band = list(pool.map(pieces_of, beams, bands(count)))
    colours = _colours(by_band, colouring, stone2room)
    middle = by_band[count // 2]
    total = _pixel_means(middle, middle.shine[middle.beams.entry][middle.region], grid)[..., None]
    for pieces, linear in zip(by_band, colours, strict=True):
        total = total + np.stack([_pixel_means(pieces, c, grid) for c in linear.T], axis=-1)
    return total, _pixel_means(middle, np.ones(len(middle.pixel)), grid)


def _colours(by_band: list[_Pieces], colouring: Colouring, stone2room: Floats) -> list[Floats]:
    """Linear sRGB (k, 3) of each band's pieces. A clear stone has one colour all over a region, so
    it is coloured by regions."""
    with workers() as pool:
        if colouring.clear:
            regions = pool.map(lambda one: one.regions().colours(colouring, stone2room), by_band)
            return [of[one.region] for of, one in zip(regions, by_band, strict=True)]
        batches = [batch for one in by_band for batch in one.batches()]
        coloured = pool.map(lambda batch: batch.colours(colouring, stone2room), batches)
        ends = np.cumsum([len(one.pixel) for one in by_band])[:-1]
        return np.split(np.concatenate([np.empty((0, 3)), *coloured]), ends)


def _pixel_means(pieces: _Pieces, values: Floats, grid: PixelGrid) -> Floats:
    """The mean (rows, columns) over each pixel of the ``values`` (k,) of its pieces."""
    sums = np.bincount(pieces.pixel, values * pieces.area, grid.rows * grid.columns)
    return np.asarray(sums.reshape(grid.rows, grid.columns) / grid.side**2)
