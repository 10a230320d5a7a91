"""Places on a piece that a person can find again: its sharp edges and its farthest points."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull
from scipy.spatial.distance import cdist

from optimizer.guidance.model import Mark
from optimizer.mesh import Floats, Mesh, Plane, cross, lengths
from optimizer.rough.model import Rough
from optimizer.sawing.faces import MeasuringFlat

CLEARLY_LESS_MM = 0.15  # by hand two readings nearer to each other can't be told apart
SAME_PLACE_SHARE = 0.2  # of the longest reading: within it corners count as one rounded place
ON_MM = 1e-6  # a mark this near to a corner of the piece is at that corner
EDGE_WITHIN_MM = 0.05  # a corner this near to two flats lies on the edge between them
LEAST_TURN = 0.1  # sine of the angle between two flats; a blunter edge isn't sharp enough
LEAST_EDGE_MM = 2.0
MOST_CORNERS = 2000  # of the hull that are compared in pairs


@dataclass(frozen=True)
class Landmark:
    """A point of the piece's surface to measure from.

    The two ends of an edge are distinguished by which is nearer to the measured point.
    """

    name: str
    point: Floats  # (3,) scan frame
    other: Floats | None = None  # (3,) the edge's other end
    nearer: bool = True  # whether this end is the nearer of the two

    def apart(self, points: Floats) -> Floats:
        """What a caliper reads from here to points (n, 3), in mm: (n,)."""
        here = lengths(points - self.point)
        if self.other is None:
            return here
        there = lengths(points - self.other)
        return np.asarray(np.minimum(here, there) if self.nearer else np.maximum(here, there))


@dataclass(frozen=True)
class Edge:
    """A sharp edge between two flats, or the line of a caliper reading.

    With a caliper, its two ends are distinguished by their distances.
    """

    name: str
    ends: Floats  # (2, 3) scan frame

    def ends_from(self, point: Floats, not_real: Sequence[Plane] = ()) -> list[Landmark]:
        """The edge's ends, named by which is nearer to a point (3,); of an edge that ends at one of
        the planes ``not_real``, which the piece does not have, only the other end."""
        missing = lie_on(self.ends, not_real)
        if missing.any():
            named = f"the end of {self.name} that is not broken"
            return [Landmark(named, end) for end in self.ends[~missing]]
        apart = np.round(np.linalg.norm(self.ends - point, axis=1), 6)
        near = int(np.argmin(apart))
        return [
            Landmark(f"the nearer end of {self.name}", self.ends[near], self.ends[1 - near]),
            Landmark(
                f"the farther end of {self.name}", self.ends[1 - near], self.ends[near], False
            ),
        ]


def not_real_planes(rough: Rough) -> tuple[Plane, ...]:
    """The planes of the rough's solid that the piece itself does not have."""
    return () if rough.readings is None else rough.readings.not_real


def lie_on(points: Floats, planes: Sequence[Plane]) -> NDArray[np.bool_]:
    """Which points (n, 3) lie on one of the planes."""
    on = np.zeros(len(points), bool)
    for plane in planes:
        on |= np.abs(points @ plane.normal - plane.offset) <= ON_MM
    return on


def landmarks(rough: Mesh, not_real: Sequence[Plane] = ()) -> tuple[Landmark, ...]:
    """Marks P and Q, the two points farthest apart; R, the point farthest from the line P-Q; S and
    T, the points farthest from the plane P-Q-R on either side.

    P and Q are where a caliper has its longest reading on the piece. Corners on the planes
    ``not_real`` don't count. A mark is left out, and with it the marks that depend on it, where
    another place comes so near to being the farthest that by hand the two can't be told apart.
    """
    corners = _outermost(rough.vertices)
    if lie_on(corners, not_real).any():
        return ()  # how far the piece reaches there is not known
    apart = np.round(cdist(corners, corners), 6)
    p, q = divmod(int(np.argmax(apart)), len(corners))
    near = apart <= SAME_PLACE_SHARE * apart[p, q]
    same = (near[p][:, None] & near[q]) | (near[q][:, None] & near[p])
    if np.where(same, 0.0, apart).max() > apart[p, q] - CLEARLY_LESS_MM:
        return ()
    ends = (Landmark("mark P", corners[p]), Landmark("mark Q", corners[q]))
    along = (corners[q] - corners[p]) / apart[p, q]
    to_corner = corners - corners[p]
    aside = np.round(np.linalg.norm(to_corner - np.outer(to_corner @ along, along), axis=1), 6)
    r = _clearly_greatest(aside, near)
    if r is None:
        return ends
    height = np.round(to_corner @ np.cross(along, (corners[r] - corners[p]) / aside[r]), 6)
    chosen = {"R": r, "S": _clearly_greatest(height, near), "T": _clearly_greatest(-height, near)}
    return (*ends, *(Landmark(f"mark {k}", corners[i]) for k, i in chosen.items() if i is not None))


def _clearly_greatest(values: Floats, near: NDArray[np.bool_]) -> int | None:
    """The index of the greatest of ``values`` (n,); None where another place has nearly as much.
    ``near`` (n, n): which corners count as one place."""
    best = int(np.argmax(values))
    others = values[~near[best]]
    return None if others.max(initial=-np.inf) > values[best] - CLEARLY_LESS_MM else best


def longest_reading(piece: Mesh) -> Edge:
    """The line between a piece's two farthest points, for a piece with no marks and no edges."""
    corners = _outermost(piece.vertices)
    apart = np.round(cdist(corners, corners), 6)
    ends = corners[list(divmod(int(np.argmax(apart)), len(corners)))]
    return Edge("the piece's longest caliper reading", ends)


def landmark_marks(points: tuple[Landmark, ...]) -> tuple[Mark, ...]:
    """The marks, to be set on the rough before the first cut."""
    if not points:
        return ()
    longest = float(np.linalg.norm(points[1].point - points[0].point))
    texts = {
        "mark P": f"One end of the caliper's longest reading on the rough, {longest:.1f} mm.",
        "mark Q": f"The other end of the caliper's longest reading on the rough, {longest:.1f} mm.",
        "mark R": "The point of the rough farthest from the line between the marks P and Q.",
        "mark S": "The point of the rough farthest above the plane through the marks P, Q and R.",
        "mark T": "The point of the rough farthest below the plane through the marks P, Q and R.",
    }
    return tuple(Mark(place.name, place.point, None, texts[place.name]) for place in points)


def landmarks_on(points: tuple[Landmark, ...], piece: Mesh) -> list[Landmark]:
    """The landmarks of the rough that are still on a piece of it."""
    return [
        place for place in points if lengths(piece.vertices - place.point).min(initial=1.0) <= ON_MM
    ]


def edges_on(piece: Mesh, flats: list[MeasuringFlat]) -> list[Edge]:
    """The edges of the piece along which two of its flats meet."""
    height = piece.vertices @ np.array([f.plane.normal for f in flats]).reshape(-1, 3).T
    on = np.abs(height - np.array([f.plane.offset for f in flats])) <= EDGE_WITHIN_MM
    edges: list[Edge] = []
    for i, j in combinations(range(len(flats)), 2):
        way = cross(flats[i].plane.normal, flats[j].plane.normal)
        shared = piece.vertices[on[:, i] & on[:, j]]
        if np.linalg.norm(way) < LEAST_TURN or len(shared) < 2:
            continue
        along = np.round(shared @ way, 6)
        ends = shared[[int(np.argmin(along)), int(np.argmax(along))]]
        if np.linalg.norm(ends[1] - ends[0]) >= LEAST_EDGE_MM:
            edges.append(Edge(f"the edge between {flats[i].name} and {flats[j].name}", ends))
    return edges


def _outermost(vertices: Floats) -> Floats:
    """The hull's corners; of very many only every second, third and so on in the file's order."""
    corners = vertices[np.sort(ConvexHull(vertices).vertices)]
    return np.asarray(corners[:: 1 + len(corners) // MOST_CORNERS])
