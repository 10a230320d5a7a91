"""Places on a piece that a person can find again: its sharp edges and its farthest points."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from scipy.spatial import ConvexHull
from scipy.spatial.distance import cdist

from optimizer.guidance.model import Mark
from optimizer.mesh import Floats, Mesh, cross, lengths
from optimizer.sawing.faces import MeasuringFlat

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

    def ends_from(self, point: Floats) -> list[Landmark]:
        """The edge's ends, named by which is nearer to a point (3,)."""
        apart = np.round(np.linalg.norm(self.ends - point, axis=1), 6)
        near = int(np.argmin(apart))
        return [
            Landmark(f"the nearer end of {self.name}", self.ends[near], self.ends[1 - near]),
            Landmark(
                f"the farther end of {self.name}", self.ends[1 - near], self.ends[near], False
            ),
        ]


def landmarks(rough: Mesh) -> tuple[Landmark, ...]:
    """Marks P and Q, the two points farthest apart; R, the point farthest from the line P-Q; S and
    T, the points farthest from the plane P-Q-R on either side.

    P and Q are where a caliper has its longest reading on the piece.
    """
    corners = _outermost(rough.vertices)
    apart = np.round(cdist(corners, corners), 6)
    p, q = divmod(int(np.argmax(apart)), len(corners))
    along = (corners[q] - corners[p]) / apart[p, q]
    to_corner = corners - corners[p]
    aside = np.linalg.norm(to_corner - np.outer(to_corner @ along, along), axis=1)
    r = int(np.argmax(np.round(aside, 6)))
    height = np.round(to_corner @ cross(along, (corners[r] - corners[p]) / aside[r]), 6)
    chosen = (p, q, r, int(np.argmax(height)), int(np.argmin(height)))
    return tuple(Landmark(f"mark {k}", corners[i]) for k, i in zip("PQRST", chosen, strict=True))


def longest_reading(piece: Mesh) -> Edge:
    """The line between a piece's two farthest points, for a piece with no marks and no edges."""
    p, q, *_ = landmarks(piece)
    return Edge("the piece's longest caliper reading", np.array([p.point, q.point]))


def landmark_marks(points: tuple[Landmark, ...]) -> tuple[Mark, ...]:
    """The marks P to T, to be set on the rough before the first cut."""
    longest = float(np.linalg.norm(points[1].point - points[0].point))
    texts = (
        f"One end of the caliper's longest reading on the rough, {longest:.1f} mm.",
        f"The other end of the caliper's longest reading on the rough, {longest:.1f} mm.",
        "The point of the rough farthest from the line between the marks P and Q.",
        "The point of the rough farthest above the plane through the marks P, Q and R.",
        "The point of the rough farthest below the plane through the marks P, Q and R.",
    )
    return tuple(
        Mark(place.name, place.point, None, text) for place, text in zip(points, texts, strict=True)
    )


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
