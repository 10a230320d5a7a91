"""Whether the finished stone keeps clear of the rough's flaws, by separating planes.

The distance between stone and flaw is the greatest distance that two parallel planes between them
can have. So any two such planes prove a distance, by the stone's corners and the flaw alone. For
a flaw given as a mesh the robust kernel measures the distance, and finds whether one lies within
the other. Of a flaw allowed off the table only a part of the stone must keep clear; the kernel
cuts this part out.
"""

import numpy as np

from optimizer.audit.common import LENGTH_MM, require, robust
from optimizer.mesh import Floats, Mesh, Plane
from optimizer.rough.model import Flaw, Rough
from optimizer.solid import as_mesh, trim
from optimizer.wording.plain_number import plain

_ON_TABLE_MM = 1e-6  # corners at most so far below the highest one belong to the table
_SEARCH_SHARE = 1.5  # of the clearance demanded: the greatest distance to a mesh that is measured
_ROUNDS = 60  # each adds a point of a round sheet's rim; usually a handful is enough
_SAME_MM = 1e-9  # the rounds end when the distance is known this closely


def flaws_are_cleared(mesh: Mesh, axis: Floats, rough: Rough, name: str) -> str | None:
    """The stone keeps each flaw's clearance beyond the flaw's own radius. Of a flaw allowed off the
    table, only the part of the stone straight below the table must. ``axis`` (3,) points out of
    the table. None without flaws."""
    gaps = []
    for flaw in rough.flaws:
        part = part_below_table(mesh, axis) if flaw.off_table else mesh
        gap, shared = gap_to_flaw(part, flaw), shared_mm3(part, flaw)
        what = "keeps what is below its table" if flaw.off_table else "keeps"
        require(
            gap >= flaw.clearance_mm - LENGTH_MM,
            f'{name} {what} clear of the flaw "{flaw.name}"',
            f"it overlaps the flaw by {plain(shared)} mm³" if shared else f"{gap:.9f} mm measured",
            f"at least {plain(flaw.clearance_mm, 9)} mm",
        )
        where = " below its table" if flaw.off_table else ""
        more = "at least " if flaw.mesh is not None else ""
        gaps.append(
            f'"{flaw.name}"{where} by {more}{gap:.6f} mm, with {plain(flaw.clearance_mm)} mm '
            "demanded"
        )
    return f"{name} keeps clear of the flaws: {'; '.join(gaps)}." if gaps else None


def part_below_table(mesh: Mesh, axis: Floats) -> Mesh:
    """The part of a convex stone straight below its table: within the table's outline, extended
    along the axis."""
    heights = mesh.vertices @ axis
    rim = mesh.vertices[heights >= heights.max() - _ON_TABLE_MM]
    middle = rim.mean(axis=0)
    first = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
    spokes = rim - middle
    turns = np.arctan2(spokes @ np.cross(axis, first), spokes @ first)
    rim = rim[np.argsort(turns)]
    solid = robust(mesh, "the stone")
    for one, other in zip(rim, np.roll(rim, -1, axis=0), strict=True):
        inward = np.cross(axis, other - one)
        if np.linalg.norm(inward) > _ON_TABLE_MM:
            solid = trim(solid, Plane.through(one, inward))
    return as_mesh(solid)


def gap_to_flaw(stone: Mesh, flaw: Flaw) -> float:
    """Least distance in mm from a convex stone to a flaw; zero or less where they meet. For a flaw
    given as a mesh it is at most 1.5 times the clearance, and zero where they overlap."""
    if flaw.mesh is None:
        return gap_to_core(stone.vertices, flaw) - flaw.radius_mm
    if shared_mm3(stone, flaw) > 0.0:
        return 0.0
    one, other = robust(stone, "the stone"), robust(flaw.mesh, f'the flaw "{flaw.name}"')
    return float(one.min_gap(other, _SEARCH_SHARE * flaw.clearance_mm))


def shared_mm3(stone: Mesh, flaw: Flaw) -> float:
    """The volume in mm³ that a stone and a flaw given as a mesh have in common; else 0."""
    if flaw.mesh is None:
        return 0.0
    one, other = robust(stone, "the stone"), robust(flaw.mesh, f'the flaw "{flaw.name}"')
    return max(0.0, float((one ^ other).volume()))


def gap_to_core(corners: Floats, flaw: Flaw) -> float:
    """Least distance in mm from the convex stone of these corners (k, 3) to a flaw's core.

    The result is never too large; it is zero or less where they meet.
    """
    if flaw.normal is not None and np.isinf(flaw.across_mm):
        heights = (corners - flaw.ends[0]) @ flaw.normal
        return float(max(heights.min(), -heights.max()))
    core, gap = flaw.ends, -np.inf
    for _ in range(_ROUNDS):
        apart = _nearest_difference(core, corners)
        distance = float(np.linalg.norm(apart))
        if distance <= _SAME_MM:  # they meet
            return max(gap, 0.0)
        direction = apart / distance
        nearest = _support(flaw, direction)
        gap = max(gap, float(nearest @ direction - (corners @ direction).max()))
        if distance - gap <= _SAME_MM:
            break
        core = np.vstack([core, nearest])
    return gap


def _support(flaw: Flaw, direction: Floats) -> Floats:
    """The core's point that lies least far along ``direction``."""
    if flaw.normal is None:
        ends: Floats = flaw.ends[np.argmin(flaw.ends @ direction)]
        return ends
    along = direction
    for _ in range(2):  # twice, since the small rest of a nearly square direction is inaccurate
        along = along - (along @ flaw.normal) * flaw.normal
        length = float(np.linalg.norm(along))
        along = along / length if length > 1e-12 else np.zeros(3)
    point: Floats = flaw.ends[0] - along * flaw.across_mm / 2.0
    return point


def _nearest_difference(core: Floats, corners: Floats) -> Floats:
    """The shortest vector (3,) from the hull of ``corners`` to the hull of ``core``.

    By non-negative least squares: Lawson and Hanson, Solving Least Squares Problems, 1974,
    chapter 23.
    """
    from scipy.optimize import nnls

    differences = (core[:, None] - corners[None]).reshape(-1, 3)
    scale = float(np.linalg.norm(differences, axis=1).min()) or 1.0
    system = np.vstack([differences.T / scale, np.ones(len(differences))])
    shares = nnls(system, np.array([0.0, 0.0, 0.0, 1.0]))[0]
    shortest: Floats = shares @ differences / shares.sum()
    return shortest
