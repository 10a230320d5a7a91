"""A picture's dots, each the mean over its whole square of what a face shows there."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from optimizer.mesh import Floats, Ints
from optimizer.optics.beams import Beams, beams_of
from optimizer.optics.colouring import Colouring
from optimizer.optics.eye import rocked
from optimizer.optics.face import Face
from optimizer.optics.kernels.pixels import pixel_pieces
from optimizer.optics.lights import Light
from optimizer.optics.look import CutStone, Turn
from optimizer.optics.refraction import index_at
from optimizer.optics.shading import Band, bands
from optimizer.placement.workers import workers

LEAST = 1e-3  # what is left of a beam after that shows in no picture
FINEST = 0.3  # of a dot: a beam that brings less light is split no more
_TOGETHER = 2048  # pieces coloured at once: their paths then stay in the processor's cache


@dataclass(frozen=True)
class PixelGrid:
    """Square dots of ``side`` mm, by rows from (``left``, ``top``) of the room to the right and
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
    """The parts (k) that dots cut from the regions of one band's beams.

    ``shine`` (n,) is the light that comes in at each node of ``beams``, ``middle`` (k, 2) a place.
    """

    band: Band
    beams: Beams
    shine: Floats
    region: Ints
    dot: Ints
    area: Floats
    middle: Floats

    @staticmethod
    def of(beams: Beams, band: Band, light: Light, room: Floats, grid: PixelGrid) -> "_Pieces":
        shine = beams.weight * light.radiance(beams.leaving @ room.T)
        places = grid.left, grid.top, grid.side, grid.rows, grid.columns
        return _Pieces(
            band, beams, shine, *pixel_pieces(beams.outline, beams.outline_start, *places)
        )

    def parts(self) -> Iterator["_Pieces"]:
        """Some at a time."""
        for first in range(0, len(self.dot), _TOGETHER):
            few = slice(first, first + _TOGETHER)
            yield replace(
                self, region=self.region[few], dot=self.dot[few],
                area=self.area[few], middle=self.middle[few],
            )  # fmt: skip

    def regions(self) -> "_Pieces":
        """One piece a region, whatever the dots."""
        every = np.arange(len(self.beams.left))
        return replace(self, region=every, middle=self.beams.inside)

    def colours(self, colouring: Colouring, room: Floats) -> Floats:
        """Linear sRGB (k, 3) of the band's light, without gloss."""
        paths, node = self.beams.paths(self.region, self.middle)
        shine = self.shine[node]
        shine[paths.start[:-1]] = 0.0
        return colouring.colours(Face((self.band,), (paths,), room, self.middle), (shine,))


def render_face(
    cut: CutStone, colouring: Colouring, light: Light, grid: PixelGrid, *, turn: Turn, count: int,
    least: float = LEAST, finest: float = FINEST, threads: int = 2,
) -> tuple[Floats, Floats]:  # fmt: skip
    """Linear sRGB (rows, columns, 3) with gloss, dark beside the stone, and the part of each dot
    that the stone covers (rows, columns).

    In ``count`` bands of the spectrum. Each piece that a dot cuts from a region of like rays has
    the colour of its middle. Raises InputError where the species has no refractive index.
    """
    room, parts = rocked(*turn), bands(count)
    planes = cut.body.normals, cut.body.offsets_at(cut.width)
    beams = [
        beams_of(
            *planes, index_at(cut.material, band.nm), room, *grid.ends,
            finest=finest * grid.side**2, least=least, threads=threads,
        )
        for band in parts
    ]  # fmt: skip

    def cut_up(one: Beams, band: Band) -> _Pieces:
        return _Pieces.of(one, band, light, room, grid)

    with workers(threads) as pool:
        seen = list(pool.map(cut_up, beams, parts))
        if colouring.clear:
            regions = pool.map(lambda one: one.regions().colours(colouring, room), seen)
            shown = [each[one.region] for each, one in zip(regions, seen, strict=True)]
        else:
            jobs = [part for one in seen for part in one.parts()]
            few = pool.map(lambda part: part.colours(colouring, room), jobs)
            cuts = np.cumsum([len(one.dot) for one in seen])[:-1]
            shown = np.split(np.concatenate([np.empty((0, 3)), *few]), cuts)
    middle = seen[count // 2]
    total = _spread(middle, middle.shine[middle.beams.entry][middle.region], grid)[..., None]
    for one, colours in zip(seen, shown, strict=True):
        total = total + np.stack([_spread(one, part, grid) for part in colours.T], axis=-1)
    return total, _spread(middle, np.ones(len(middle.dot)), grid)


def _spread(pieces: _Pieces, values: Floats, grid: PixelGrid) -> Floats:
    """The mean (rows, columns) over each dot of what its pieces have (k,)."""
    sums = np.bincount(pieces.dot, values * pieces.area, grid.rows * grid.columns)
    return np.asarray(sums.reshape(grid.rows, grid.columns) / grid.side**2)
