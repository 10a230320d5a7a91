"""Caliper distances that fix each cut's plane on the piece that it goes through."""

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations

import numpy as np
from scipy.spatial import ConvexHull

from optimizer.guidance.landmarks import (
    Landmark,
    edges_on,
    landmarks_on,
    lie_on,
    longest_reading,
    not_real_planes,
)
from optimizer.guidance.model import Distance
from optimizer.guidance.readings import (
    CutPoint,
    TriangleCells,
    choose_readings,
    reading_from_flat,
    reading_from_point,
)
from optimizer.mesh import Floats, Mesh, Plane, cross, greatest, unit_normals
from optimizer.rough.model import Rough
from optimizer.running.workers import side_by_side
from optimizer.sawing.faces import MeasuringFlat, flats_of, sawn_face
from optimizer.sawing.model import SawCut, SawPlan
from optimizer.solid import as_solid, in_space, plane_frame, section

WAYS = 36  # directions around the cut's line in which its outermost points are looked for
OFF_SQUARE = 0.37  # of the step between them: so that none is square to a straight side of the line
FEWEST_PLACES = 3  # with fewer marks and ends of edges, the longest reading's ends are added
TOUCH_MM = 1e-6  # a point this near to a triangle lies on it


def cut_distances(
    rough: Rough,
    plan: SawPlan,
    points: tuple[Landmark, ...],
    along: Floats,
    stop: Callable[[], bool] = lambda: False,
) -> tuple[tuple[Distance, ...], ...]:
    """For each cut: two readings to each of three points of its line, and one to check the cut.

    The points A, B, C form the largest triangle on the cut's line, so together they fix its plane.
    Two readings and the surface fix each point; a third reading is added where another place of the
    surface has the same two. ``points``: the rough's landmarks. The search around the line starts
    in the direction in the cut nearest to ``along`` (3,). Once ``stop`` is true the remaining cuts
    get no distances.
    """

    def one(index: int) -> tuple[Distance, ...]:
        return () if stop() else _of_cut(rough, plan, index, points, along)

    return tuple(side_by_side(one, range(len(plan.cuts))))


def _of_cut(
    rough: Rough, plan: SawPlan, index: int, points: tuple[Landmark, ...], along: Floats
) -> tuple[Distance, ...]:
    cut = plan.cuts[index]
    piece = plan.pieces[cut.piece].mesh
    flats = flats_of(plan, cut.piece, rough.reference_faces)
    places = landmarks_on(points, piece)
    edges = edges_on(piece, flats)
    not_real = not_real_planes(rough)
    few = len(places) + 2 * len(edges) < FEWEST_PLACES
    if few and not lie_on(piece.vertices, not_real).any():
        edges = [*edges, longest_reading(piece)]
    spots = _spots(piece, cut, index + 1, along, not_real)
    surface = TriangleCells.of(piece)
    readings: list[Distance] = []
    for spot in spots:
        ends = [end for edge in edges for end in edge.ends_from(spot.point, not_real)]
        readings += _readings(spot, cut, flats, places + ends, surface)
    return (*readings, *_check(plan, cut, index + 1, not_real))


def _spots(
    piece: Mesh, cut: SawCut, number: int, along: Floats, not_real: Sequence[Plane]
) -> list[CutPoint]:
    """Points A, B, C: the largest triangle among the outermost points of the cut's line, of which
    those on planes that the piece does not have count only where there is no other triangle."""
    frame = plane_frame(cut.plane.normal, along)
    line = np.vstack(section(as_solid(piece), frame, cut.plane.offset))
    real = line[~lie_on(in_space(line, frame, cut.plane.offset), not_real)]
    if len(np.unique(np.round(real, 6), axis=0)) >= 3 and np.ptp(real, axis=0).min() > TOUCH_MM:
        line = real
    corners = line[ConvexHull(line).vertices]
    turn = (np.arange(WAYS) + OFF_SQUARE) * (2.0 * np.pi / WAYS)
    ways = np.column_stack([np.cos(turn), np.sin(turn)])
    outermost = list(dict.fromkeys(np.argmax(np.round(corners @ ways.T, 6), axis=0).tolist()))
    best = max(combinations(outermost, 3), key=lambda abc: round(_area(corners[list(abc)]), 6))
    points = in_space(corners[list(best)], frame, cut.plane.offset)
    return [
        CutPoint(f"point {letter} on the line of cut {number}", point, normals_at(piece, point))
        for letter, point in zip("ABC", points, strict=True)
    ]


def normals_at(mesh: Mesh, point: Floats) -> Floats:
    """Unit normals (k, 3) of the triangles on which a point of the surface lies."""
    near = np.ones(len(mesh.triangles), bool)
    for axis in range(3):
        beside = mesh.triangles[:, :, axis] - point[axis]
        near &= (greatest(beside) >= -TOUCH_MM) & (greatest(-beside) >= -TOUCH_MM)
    corners = mesh.triangles[near]
    sides = np.roll(corners, -1, axis=1) - corners
    normals = unit_normals(corners)
    inward = cross(normals[:, None], sides)
    inward /= np.maximum(np.linalg.norm(inward, axis=2), 1e-300)[:, :, None]
    to_point = point - corners
    inside = (np.einsum("ijk,ijk->ij", inward, to_point) >= -TOUCH_MM).all(axis=1)
    touched = np.abs(np.einsum("ij,ij->i", normals, to_point[:, 0])) <= TOUCH_MM
    return np.asarray(normals[inside & touched])


def _readings(
    spot: CutPoint,
    cut: SawCut,
    flats: list[MeasuringFlat],
    places: list[Landmark],
    surface: TriangleCells,
) -> list[Distance]:
    """The readings that single out the spot. Of the first two, the one more nearly square to the
    cut comes first. A third follows only where another place has the same two."""
    readings = [reading_from_flat(spot, flat) for flat in flats]
    readings += [reading_from_point(spot, place) for place in places]
    readings = [r for r in readings if r.bonus > 0]
    chosen = choose_readings(spot, readings, places, surface)
    across = sorted(chosen[:2], key=lambda r: -round(abs(float(cut.plane.normal @ r.gradient)), 6))
    return [r.distance for r in (*across, *chosen[2:])]


def _check(
    plan: SawPlan, cut: SawCut, number: int, not_real: Sequence[Plane]
) -> Iterator[Distance]:
    """The reading that checks the finished cut: the thickness of the first piece below it; none
    where that would be measured to a plane that the piece does not have."""
    face, piece = cut.face(above=False), cut.below[0]
    vertices = plan.pieces[piece].mesh.vertices
    thickness = face.offset - vertices @ face.normal
    farthest = vertices[int(np.argmax(np.round(thickness, 6)))]
    if lie_on(farthest[None], not_real)[0]:
        return
    mm = float(face.offset - farthest @ face.normal)
    yield Distance(
        sawn_face(number - 1),
        "the point farthest from it",
        farthest + mm * face.normal,
        farthest,
        mm,
        f"After the cut: the greatest thickness of piece {piece} square to the sawn face.",
    )


def _area(corners: Floats) -> float:
    (ax, ay), (bx, by) = corners[1] - corners[0], corners[2] - corners[0]
    return float(abs(ax * by - ay * bx) / 2.0)
