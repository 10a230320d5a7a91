"""Readings that single out a point: met there, and nowhere else on the piece's surface."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from optimizer.guidance.landmarks import Landmark
from optimizer.guidance.model import Distance
from optimizer.mesh import Floats, Ints, Mesh, greatest, lengths, triangle_areas
from optimizer.sawing.faces import FLAT_WITHIN_MM, MeasuringFlat

Bools = NDArray[np.bool_]

STANDING_BONUS = 1.5  # a height above a flat is surer than a reading between two points
LAST_RESORT = 0.01  # for readings too small to take, and where the surface says as much
LEAST_HEIGHT_MM = 1.0  # a smaller height is hard to take
LEAST_READING_MM = 3.0  # shorter distances between points are not worth a caliper
LEAST_FIRMNESS = 0.2  # a pair less firm is taken only where there is no firmer one
READ_WITHIN_MM = 0.15  # two readings this near to each other can't be told apart by hand
SAME_PLACE_MM = 1.5
CELL_MM = 0.5  # the surface is looked at in triangles with sides no longer than this
BLOCK_MM = 1.5  # cells are gathered in blocks of about this size
MOST_CELLS = 400_000  # on a large piece the sides may be longer, up to about as many cells


@dataclass(frozen=True)
class CutPoint:
    """A point on the line that a cut draws around the piece."""

    name: str
    point: Floats  # (3,)
    surface: Floats  # (k, 3) unit normals of the surface there: one on a face, more on an edge


@dataclass(frozen=True)
class CaliperReading:
    """A distance to a spot, and what the same reading would be at other points."""

    distance: Distance
    gradient: Floats  # (3,) unit: the way in which the reading grows
    bonus: float
    at: Callable[[Floats], Floats]  # points (n, 3) to mm (n,)


@dataclass(frozen=True)
class TriangleCells:
    """A surface in small triangles: each lies within ``radii`` (n,) of its centre.

    They are gathered in blocks, each within ``block_radii`` (b,) of its centre: block k holds the
    cells from ``starts``[k] to ``starts``[k + 1].
    """

    centres: Floats  # (n, 3)
    radii: Floats  # (n,)
    block_centres: Floats  # (b, 3)
    block_radii: Floats  # (b,)
    starts: Ints  # (b + 1,)

    @staticmethod
    def of(mesh: Mesh) -> "TriangleCells":
        """Every triangle of the mesh, its longest side halved until it is short enough."""
        corners = mesh.triangles
        area = float(triangle_areas(corners).sum())
        most = max(CELL_MM, 2.0 * np.sqrt(area / MOST_CELLS))
        small = np.concatenate(list(_halved(corners, most)))
        centres = (small[:, 0] + small[:, 1] + small[:, 2]) / 3.0
        radii = greatest(lengths(small - centres[:, None]))
        return _in_blocks(centres, radii)

    def misses(self, reading: CaliperReading) -> Floats:
        """How far in mm a reading stays away from its value all over each cell, at least: (n,),
        no more than 0 where the cell may meet it. It grows no faster than its point moves."""
        return np.asarray(np.abs(reading.at(self.centres) - reading.distance.mm) - self.radii)

    def block_misses(self, reading: CaliperReading) -> Floats:
        """The same for the blocks, (b,): never more than for any of the block's cells."""
        away = np.abs(reading.at(self.block_centres) - reading.distance.mm)
        return np.asarray(away - self.block_radii)

    def in_blocks(self, chosen: Bools) -> "TriangleCells":
        """The cells of some of the blocks; ``chosen`` (b,) tells which."""
        runs = [slice(self.starts[k], self.starts[k + 1]) for k in np.flatnonzero(chosen)]
        centres = [self.centres[:0], *(self.centres[run] for run in runs)]
        radii = [self.radii[:0], *(self.radii[run] for run in runs)]
        return TriangleCells(np.concatenate(centres), np.concatenate(radii), *_NO_BLOCKS)

    def where(self, kept: Bools) -> "TriangleCells":
        """Some of the cells, as one block; ``kept`` (n,) tells which."""
        return TriangleCells(self.centres[kept], self.radii[kept], *_NO_BLOCKS)


_NO_BLOCKS = (np.empty((0, 3)), np.empty(0), np.zeros(1, np.int64))


def _in_blocks(centres: Floats, radii: Floats) -> TriangleCells:
    """Cells sorted into the cubes of a grid."""
    cubes = np.floor(centres / BLOCK_MM).astype(np.int64)
    cubes -= cubes.min(axis=0)
    sizes = cubes.max(axis=0) + 1
    keys = (cubes[:, 0] * sizes[1] + cubes[:, 1]) * sizes[2] + cubes[:, 2]
    order = np.argsort(keys, kind="stable")
    centres, radii, keys = centres[order], radii[order], keys[order]
    firsts = np.flatnonzero(np.r_[True, np.diff(keys) > 0])
    starts = np.r_[firsts, len(keys)]
    middles = np.add.reduceat(centres, firsts) / np.diff(starts)[:, None]
    away = lengths(centres - np.repeat(middles, np.diff(starts), axis=0)) + radii
    return TriangleCells(centres, radii, middles, np.maximum.reduceat(away, firsts), starts)


def reading_from_flat(spot: CutPoint, flat: MeasuringFlat) -> CaliperReading:
    """The spot's height above a flat; no bonus where it stands out beyond it."""
    height = flat.plane.offset - float(flat.plane.normal @ spot.point)
    start = spot.point + height * flat.plane.normal
    how = _how(flat) if height > FLAT_WITHIN_MM else (
        f"The point lies on the edge of {flat.name}: nothing to measure."
    )  # fmt: skip
    if height <= -FLAT_WITHIN_MM:
        bonus = 0.0
    elif height < LEAST_HEIGHT_MM:
        bonus = LAST_RESORT
    else:
        bonus = STANDING_BONUS if flat.stands else 1.0
    return CaliperReading(
        Distance(flat.name, spot.name, start, spot.point, abs(height), how),
        -flat.plane.normal,
        bonus,
        lambda points: np.asarray(flat.plane.offset - points @ flat.plane.normal),
    )


def _how(flat: MeasuringFlat) -> str:
    jaw = "ay a caliper's jaw flat on"
    if flat.stands:
        return f"Stand the piece on {flat.name} and take the height, or l{jaw} it."
    return (
        f"L{jaw} {flat.name} and bring the other jaw to the point; the piece doesn't stand "
        "safely on that face."
    )


def reading_from_point(spot: CutPoint, place: Landmark) -> CaliperReading:
    """The straight distance from a place to the spot; no bonus where it is too short."""
    apart = float(np.linalg.norm(spot.point - place.point))
    how = "Straight from point to point with the caliper's tips."
    return CaliperReading(
        Distance(place.name, spot.name, place.point, spot.point, apart, how),
        (spot.point - place.point) / max(apart, LEAST_READING_MM),
        1.0 if apart >= LEAST_READING_MM else 0.0,
        place.apart,
    )


def choose_readings(
    spot: CutPoint, readings: list[CaliperReading], places: list[Landmark], surface: TriangleCells
) -> list[CaliperReading]:
    """The firmest two readings that are met nowhere else on the surface.

    Where no pair is so, a third reading tells the places apart; where none does, the words of the
    second say which place is meant. Firmness: see ``firmness``.
    """
    if len(readings) < 2:
        return readings
    pairs = _firmest_first(spot, readings)
    met = cache(lambda k: surface.block_misses(readings[k]) <= READ_WITHIN_MM)

    @cache
    def elsewhere(i: int, j: int) -> TriangleCells:
        """The cells away from the spot where both readings may be met."""
        cells = surface.in_blocks(met(i) & met(j))
        both = cells.misses(readings[i]) <= READ_WITHIN_MM
        both &= cells.misses(readings[j]) <= READ_WITHIN_MM
        return cells.where(
            both & (lengths(cells.centres - spot.point) + cells.radii > SAME_PLACE_MM)
        )

    for i, j in pairs:
        if not len(elsewhere(i, j).radii):
            return [readings[i], readings[j]]
    for i, j in pairs:
        third = _third(readings, elsewhere(i, j))
        if third is not None:
            return [readings[i], readings[j], third]
    i, j = pairs[0]
    others = elsewhere(i, j).centres
    return [readings[i], _with_words(readings[j], _which(spot, places, others))]


def firmness(spot: CutPoint, pair: tuple[CaliperReading, CaliperReading]) -> float:
    """How firmly two readings and the surface hold the spot: their least singular value, 0 where
    it can slide."""
    ways = np.vstack([pair[0].gradient, pair[1].gradient, spot.surface])
    least = float(np.linalg.svd(ways, compute_uv=False)[-1]) if len(ways) > 2 else 0.0
    return round(least * pair[0].bonus * pair[1].bonus, 6)


def _firmest_first(spot: CutPoint, readings: list[CaliperReading]) -> list[tuple[int, int]]:
    """Index pairs of readings that are firm enough."""
    pairs = list(combinations(range(len(readings)), 2))
    firm = {(i, j): firmness(spot, (readings[i], readings[j])) for i, j in pairs}
    floor = min(LEAST_FIRMNESS, max(firm.values()))
    return sorted((pair for pair in pairs if firm[pair] >= floor), key=lambda pair: -firm[pair])


def _third(readings: list[CaliperReading], others: TriangleCells) -> CaliperReading | None:
    """The reading that differs most at all the other places, if it can be told by hand."""
    least = np.array([others.misses(r).min() if r.bonus > LAST_RESORT else 0.0 for r in readings])
    least = np.round(least, 6)
    best = int(np.argmax(least))
    if least[best] <= READ_WITHIN_MM:
        return None
    why = "The first two readings are met elsewhere, too: this one tells the place."
    return _with_words(readings[best], why)


def _which(spot: CutPoint, places: list[Landmark], others: Floats) -> str:
    """Words that tell the spot from other places (n, 3) where its two readings are met."""
    lead = [float(place.apart(others).min() - place.apart(spot.point[None])[0]) for place in places]
    best = int(np.argmax(np.round(lead, 6))) if lead else -1
    if best < 0 or lead[best] <= READ_WITHIN_MM:
        return "Both readings are met in more places: look the point up in the 3D view."
    return f"Both readings are met in more places: take the one nearest to {places[best].name}."


def _with_words(reading: CaliperReading, words: str) -> CaliperReading:
    how = f"{reading.distance.how} {words}"
    return replace(reading, distance=replace(reading.distance, how=how))


def _halved(corners: Floats, most: float) -> list[Floats]:
    """Triangles (n, 3, 3) that together fill the given ones, no side longer than ``most``."""
    done = []
    while len(corners):
        sides = lengths(np.roll(corners, -1, axis=1) - corners)
        long = greatest(sides) > most
        done.append(corners[~long])
        first = np.argmax(sides[long], axis=1)
        rows = np.arange(len(first))
        a, b, c = (corners[long][rows, (first + k) % 3] for k in range(3))
        middle = (a + b) / 2.0
        corners = np.concatenate(
            [np.stack([a, middle, c], axis=1), np.stack([middle, b, c], axis=1)]
        )
    return done
