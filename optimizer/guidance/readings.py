"""Readings that single out a point: no other place on the piece's surface has all of them."""

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

STANDING_BONUS = 1.5  # a height above a flat is more reliable than a reading between two points
LAST_RESORT = 0.01  # bonus of readings too small to take
LEAST_HEIGHT_MM = 1.0  # a smaller height is hard to measure
LEAST_READING_MM = 3.0  # a shorter distance between points is not worth a caliper
LEAST_FIRMNESS = 0.2  # a less firm pair is taken only where there is no firmer one
READ_WITHIN_MM = 0.15  # two readings this close can't be told apart by hand
SAME_PLACE_MM = 1.5
CELL_MM = 0.5  # longest side of the triangles into which the surface is divided
BLOCK_MM = 1.5  # cells are gathered in blocks of about this size
MOST_CELLS = 400_000  # on a large piece the sides are longer, so that there are about as many cells


@dataclass(frozen=True)
class CutPoint:
    """A point on the line that a cut draws around the piece."""

    name: str
    point: Floats  # (3,)
    surface: Floats  # (k, 3) unit normals of the surface there: one on a face, several on an edge


@dataclass(frozen=True)
class CaliperReading:
    """A distance to a spot, and what the same reading would be at other points."""

    distance: Distance
    gradient: Floats  # (3,) unit: the direction in which the reading grows
    bonus: float  # how much its firmness counts; 0: the reading can't be taken
    at: Callable[[Floats], Floats]  # the reading in mm (n,) at points (n, 3)


@dataclass(frozen=True)
class TriangleCells:
    """A surface divided into small triangles, the cells; each lies within ``radii`` of its centre.

    The cells are gathered in blocks, each within ``block_radii`` of its centre. Block k holds the
    cells from ``starts``[k] to ``starts``[k + 1].
    """

    centres: Floats  # (n, 3)
    radii: Floats  # (n,)
    block_centres: Floats  # (b, 3)
    block_radii: Floats  # (b,)
    starts: Ints  # (b + 1,)

    @staticmethod
    def of(mesh: Mesh) -> "TriangleCells":
        """The mesh's triangles, halved across their longest side until all sides are short
        enough."""
        corners = mesh.triangles
        area = float(triangle_areas(corners).sum())
        most = max(CELL_MM, 2.0 * np.sqrt(area / MOST_CELLS))
        small = np.concatenate(list(_halved(corners, most)))
        centres = (small[:, 0] + small[:, 1] + small[:, 2]) / 3.0
        radii = greatest(lengths(small - centres[:, None]))
        return _in_blocks(centres, radii)

    def misses(self, reading: CaliperReading) -> Floats:
        """A lower bound (n,) in mm of how far the reading at any point of each cell is from its
        value; 0 or less where the cell may hold a point with the same reading. A reading changes no
        faster than its point moves."""
        return np.asarray(np.abs(reading.at(self.centres) - reading.distance.mm) - self.radii)

    def block_misses(self, reading: CaliperReading) -> Floats:
        """The same bound for the blocks, (b,)."""
        away = np.abs(reading.at(self.block_centres) - reading.distance.mm)
        return np.asarray(away - self.block_radii)

    def in_blocks(self, chosen: Bools) -> "TriangleCells":
        """The cells of the blocks where ``chosen`` (b,) is true."""
        runs = [slice(self.starts[k], self.starts[k + 1]) for k in np.flatnonzero(chosen)]
        centres = [self.centres[:0], *(self.centres[run] for run in runs)]
        radii = [self.radii[:0], *(self.radii[run] for run in runs)]
        return TriangleCells(np.concatenate(centres), np.concatenate(radii), *_NO_BLOCKS)

    def where(self, kept: Bools) -> "TriangleCells":
        """The cells where ``kept`` (n,) is true, without blocks."""
        return TriangleCells(self.centres[kept], self.radii[kept], *_NO_BLOCKS)


_NO_BLOCKS = (np.empty((0, 3)), np.empty(0), np.zeros(1, np.int64))


def _in_blocks(centres: Floats, radii: Floats) -> TriangleCells:
    """The cells sorted into the cubes of a grid, one block a cube."""
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
    """The spot's height above a flat; bonus 0 where the spot lies beyond the flat."""
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
    """The straight distance from a place to the spot; bonus 0 where it is too short."""
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
    """The firmest two readings that no other place of the surface has together.

    Where there is no such pair, a third reading distinguishes the places. Where no third one does,
    the words of the second reading say which place is meant. Firmness: see ``firmness``.
    """
    if len(readings) < 2:
        return readings
    pairs = _firmest_first(spot, readings)
    met = cache(lambda k: surface.block_misses(readings[k]) <= READ_WITHIN_MM)

    @cache
    def elsewhere(i: int, j: int) -> TriangleCells:
        """The cells away from the spot that may hold a point with both readings."""
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
    """How firmly two readings and the surface fix the spot: the least singular value of the
    readings' gradients and the surface's normals, times the bonuses; 0 where the spot can slide."""
    ways = np.vstack([pair[0].gradient, pair[1].gradient, spot.surface])
    least = float(np.linalg.svd(ways, compute_uv=False)[-1]) if len(ways) > 2 else 0.0
    return round(least * pair[0].bonus * pair[1].bonus, 6)


def _firmest_first(spot: CutPoint, readings: list[CaliperReading]) -> list[tuple[int, int]]:
    """Index pairs of readings that are firm enough, the firmest first."""
    pairs = list(combinations(range(len(readings)), 2))
    firm = {(i, j): firmness(spot, (readings[i], readings[j])) for i, j in pairs}
    floor = min(LEAST_FIRMNESS, max(firm.values()))
    return sorted((pair for pair in pairs if firm[pair] >= floor), key=lambda pair: -firm[pair])


def _third(readings: list[CaliperReading], others: TriangleCells) -> CaliperReading | None:
    """The reading that differs most at all the other places; None where by hand no difference
    could be read."""
    least = np.array([others.misses(r).min() if r.bonus > LAST_RESORT else 0.0 for r in readings])
    least = np.round(least, 6)
    best = int(np.argmax(least))
    if least[best] <= READ_WITHIN_MM:
        return None
    why = "Another place has the same first two readings: this one tells which place is meant."
    return _with_words(readings[best], why)


def _which(spot: CutPoint, places: list[Landmark], others: Floats) -> str:
    """Words that tell the spot from other places (n, 3) with the same two readings."""
    lead = [float(place.apart(others).min() - place.apart(spot.point[None])[0]) for place in places]
    best = int(np.argmax(np.round(lead, 6))) if lead else -1
    if best < 0 or lead[best] <= READ_WITHIN_MM:
        return "Several places have both readings: look the point up in the 3D view."
    return f"Several places have both readings: take the one nearest to {places[best].name}."


def _with_words(reading: CaliperReading, words: str) -> CaliperReading:
    how = f"{reading.distance.how} {words}"
    return replace(reading, distance=replace(reading.distance, how=how))


def _halved(corners: Floats, most: float) -> list[Floats]:
    """The triangles (n, 3, 3) halved until no side is longer than ``most``, as a list of arrays."""
    done = []
    while len(corners):
        a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
        sides = np.column_stack([lengths(b - a), lengths(c - b), lengths(a - c)])
        long = greatest(sides) > most
        done.append(corners[~long])
        corners, first = corners[long], np.argmax(sides[long], axis=1)
        rows = np.arange(len(first))
        a, b, c = (corners[rows, (first + k) % 3] for k in range(3))
        middle = (a + b) / 2.0
        corners = np.empty((2 * len(rows), 3, 3))
        for half, ends in ((corners[: len(rows)], (a, middle, c)),
                           (corners[len(rows) :], (middle, b, c))):  # fmt: skip
            half[:, 0], half[:, 1], half[:, 2] = ends
    return done
