"""The plane in which the saw really ran, from how far it strayed or from measured distances."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.errors import InputError
from optimizer.guidance.model import Distance
from optimizer.mesh import Floats, Plane
from optimizer.sawing.model import SawCut
from optimizer.sawn.plan_folder import PlannedCut
from optimizer.solid import plane_frame

ACROSS = 0.3  # sine: a reading at a smaller angle to the cut says too little about its place
LEAST_SPREAD_MM = 2.0  # readings closer together can't fix a tilt: an error of 0.1 mm is 3 degrees
WORST_MISFIT_MM = 0.5  # readings that disagree by more contradict one another (our own choice)
_ROUNDS = 50
_SETTLED = 1e-14


@dataclass(frozen=True)
class NewPlane:
    """The middle of the kerf as it was sawn. The normal still points to the ``above`` side."""

    plane: Plane
    kerf_mm: float
    misfit_mm: float = 0.0  # of the reading that fits worst
    open_tilt: str = ""  # in words: the tilt that no reading fixes; empty where all is fixed


@dataclass(frozen=True)
class CutFrame:
    """Coordinates along and above the planned plane, with their origin in the cut's middle."""

    plane: Plane
    centre: Floats  # (3,) on the plane
    axes: Floats  # (2, 3) along the plane

    @staticmethod
    def of(cut: SawCut) -> "CutFrame":
        """The frame of a planned cut."""
        frame = plane_frame(cut.plane.normal, np.array([1.0, 0.0, 0.0]))
        return CutFrame(cut.plane, cut.centre, frame[:2])

    def along(self, points: Floats) -> Floats:
        """Coordinates (..., 2) of points (..., 3) along the plane."""
        return np.asarray((points - self.centre) @ self.axes.T)

    def heights(self, points: Floats) -> Floats:
        """Heights (...) of points (..., 3) above the plane."""
        return np.asarray((points - self.centre) @ self.plane.normal)

    def raised(self, by_mm: float, slope: Floats) -> Plane:
        """The plane that lies ``by_mm`` higher at the middle and rises by ``slope`` (2,)."""
        normal = self.plane.normal - slope @ self.axes
        return Plane.through(self.centre + by_mm * self.plane.normal, normal)


def displaced(
    cut: SawCut, by_mm: float, tilt_deg: float, most_at: Floats | None, *, into_above: bool
) -> Plane:
    """The planned plane moved by ``by_mm`` and tilted towards the place ``most_at`` (3,), where the
    saw strayed most."""
    frame, side = CutFrame.of(cut), 1.0 if into_above else -1.0
    slope = np.zeros(2)
    if most_at is not None and tilt_deg > 0.0:
        way = frame.along(most_at)
        if np.linalg.norm(way) < LEAST_SPREAD_MM:
            raise InputError(
                "most_at lies over the middle of the cut, so it gives the tilt no direction: take "
                "a place at the cut's rim"
            )
        slope = np.tan(np.radians(tilt_deg)) * way / np.linalg.norm(way)
    return frame.raised(side * by_mm, side * slope)


def rim_point(planned: PlannedCut, letter: str) -> Floats:
    """Point A, B or C on the planned cut's line. Raises InputError where the plan lists no such
    point."""
    for distance in planned.distances:
        if distance.end.startswith(f"point {letter} "):
            return distance.end_point
    raise InputError(
        f"the plan lists no point {letter} for cut {planned.number}: give most_at as [x, y, z]"
    )


def measured_plane(
    planned: PlannedCut, readings: Mapping[int, float], kerf_mm: float, piece: Floats, on: str
) -> NewPlane:
    """The plane by ``readings``: distances of the plan's list, by their number from 1, measured
    again to the new face.

    ``piece`` (n, 3): the corners of the piece that was sawn. A reading runs straight from its start
    through its planned end to a face of the kerf. If it starts at a mark, this is the face of the
    piece with the mark. If it starts at a flat, which both pieces may have, it is the face of the
    piece on the side ``on`` ("below" | "above"). The thickness left is measured square to the new
    face, to the farthest point of the piece. Three readings fix the plane. With fewer, the plane
    keeps as near to the planned tilt as they allow (least slope over the planned plane); more are
    fitted by least squares. Raises InputError where the readings don't fix the plane.
    """
    frame = CutFrame.of(planned.cut)
    numbers = sorted(readings, key=lambda k: (_is_thickness(planned, k), k))
    equations = [_equation(planned, k, readings[k], kerf_mm, frame, piece, on) for k in numbers]
    direct = [e for e, k in zip(equations, numbers, strict=True) if not _is_thickness(planned, k)]
    # Which point of the piece is farthest depends on the tilt, which the other readings give first.
    start = _fitted(frame, direct, np.zeros(3))[0] if direct else np.zeros(3)
    (by_mm, *slope), places, misfit = _fitted(frame, equations, start)
    if misfit > WORST_MISFIT_MM:
        raise InputError(
            f"distances_mm: the readings contradict one another by {misfit:.2f} mm; measure again"
        )
    plane = frame.raised(by_mm, np.array(slope))
    return NewPlane(plane, kerf_mm, misfit, _open_tilt(places - places.mean(axis=0)))


def _fitted(
    frame: CutFrame, equations: "Sequence[ReadingEquation]", start: Floats
) -> tuple[Floats, Floats, float]:
    """((height at the middle, slope) (3,), the readings' places (n, 2), the worst misfit)."""
    state = start
    for _ in range(_ROUNDS):
        steep = float(np.sqrt(1.0 + state[1:] @ state[1:]))
        met = [equation(frame.raised(state[0], state[1:]), steep) for equation in equations]
        places, heights = np.array([m[0] for m in met]), np.array([m[1] for m in met])
        middle, before = places.mean(axis=0), state
        slope = _least_slope(places - middle, heights - heights.mean())
        state = np.array([heights.mean() - middle @ slope, *slope])
        if np.abs(state - before).max() <= _SETTLED:
            break
    return state, places, float(np.abs(state[0] + places @ state[1:] - heights).max())


ReadingEquation = Callable[[Plane, float], tuple[Floats, float]]
"""From a guess of the plane and its steepness √(1 + slope²): a place (2,) along the planned plane,
and the height of the kerf's middle there."""


def _equation(
    planned: PlannedCut, number: int, mm: float, kerf_mm: float, frame: CutFrame, piece: Floats,
    on: str,
) -> ReadingEquation:  # fmt: skip
    distance = _listed(planned, number)
    if _is_thickness(planned, number):
        return _thickness(distance, mm, kerf_mm, frame, piece)
    way = distance.end_point - distance.start_point
    length = float(np.linalg.norm(way))
    if abs(float(way @ frame.plane.normal)) <= ACROSS * length:
        raise InputError(
            f"distances_mm: reading {number}, from {distance.start}, runs along the cut and says "
            f"little about its place; of the cut's list measure {_across(planned, frame)}"
        )
    way = way / length
    end = distance.start_point + mm * way
    from_below = bool(frame.heights(distance.start_point) < 0.0)
    if distance.start.startswith(("face ", "the sawn face ")):
        from_below = on == "below"
    half = -kerf_mm / 2.0 if from_below else kerf_mm / 2.0
    place, height = frame.along(end), float(frame.heights(end))
    return lambda _, steep: (place, height - steep * half)


def _listed(planned: PlannedCut, number: int) -> Distance:
    if not 1 <= number <= len(planned.distances):
        raise InputError(
            f"distances_mm: cut {planned.number} has no reading {number}; the plan lists "
            f"{len(planned.distances)}"
        )
    return planned.distances[number - 1]


def _is_thickness(planned: PlannedCut, number: int) -> bool:
    """Whether a reading is the thickness left square to the new face."""
    return _listed(planned, number).start == f"the sawn face of cut {planned.number}"


def _thickness(
    distance: Distance, mm: float, kerf_mm: float, frame: CutFrame, piece: Floats
) -> ReadingEquation:
    """The equation of the piece's greatest thickness square to the new face. The farthest point may
    change as the face tilts."""
    side = -1.0 if frame.heights(distance.end_point) < 0.0 else 1.0

    def equation(guess: Plane, steep: float) -> tuple[Floats, float]:
        farthest = piece[int(np.argmax(side * (piece @ guess.normal)))]
        height = float(frame.heights(farthest))
        return frame.along(farthest), height - side * steep * (mm + kerf_mm / 2.0)

    return equation


def _across(planned: PlannedCut, frame: CutFrame) -> str:
    """The numbers of the readings that fix where the cut lies."""
    numbers = []
    for number, d in enumerate(planned.distances, 1):
        way = d.end_point - d.start_point
        rise = abs(float(way @ frame.plane.normal))
        if _is_thickness(planned, number) or rise > ACROSS * float(np.linalg.norm(way)):
            numbers.append(str(number))
    return ", ".join(numbers) or "none, and give [moved] instead"


def _least_slope(places: Floats, heights: Floats) -> Floats:
    """The least slope (2,) that fits heights (n,) over places (n, 2), both about their means."""
    left, spread, ways = np.linalg.svd(places, full_matrices=False)
    fixed = spread >= LEAST_SPREAD_MM / 2.0
    return np.asarray((left.T @ heights)[fixed] / spread[fixed] @ ways[fixed])


def _open_tilt(places: Floats) -> str:
    """The tilt, in words, that readings at ``places`` (n, 2) about their mean don't fix."""
    spread = np.linalg.svd(places, compute_uv=False)
    match int(np.sum(spread >= LEAST_SPREAD_MM / 2.0)):
        case 0:
            return "the readings say nothing about the cut's tilt, which is taken as planned"
        case 1:
            return (
                "the readings fix the cut's tilt in one direction only; in the other it is taken "
                "as planned"
            )
    return ""
