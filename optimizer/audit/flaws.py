"""Does the finished stone keep clear of the rough's flaws? By separating planes.

A stone is as far from a flaw as the farthest apart that two parallel planes between them can be.
So the planes that are found prove the distance by the stone's corners and the flaw alone,
whatever way they were found. From a flaw's mesh the robust kernel measures, which also tells
whether one lies within the other. What must keep clear of a flaw allowed off the table, the kernel
cuts out of the stone.
"""

import numpy as np

from optimizer.audit.common import LENGTH_MM, require, robust
from optimizer.mesh import Floats, Mesh, Plane
from optimizer.rough.model import Flaw, Rough
from optimizer.solid import as_mesh, trim
from optimizer.wording.plain_number import plain

_ON_TABLE_MM = 1e-6  # how far below the highest corner one still is the table's
_SEARCH_SHARE = 1.5  # of the clearance demanded: how far the kernel looks for a mesh
_ROUNDS = 60  # of adding a point of a round sheet's rim; a handful is the rule
_SAME_MM = 1e-9  # the rim is followed this closely


def flaws_are_cleared(mesh: Mesh, axis: Floats, rough: Rough, name: str) -> str | None:
    """The stone keeps each flaw's clearance beyond the flaw's own radius; of a flaw allowed off
    the table, its part straight below the table does. ``axis`` (3,) points out of the table. None
    without flaws."""
    told = []
    for flaw in rough.flaws:
        part = part_below_table(mesh, axis) if flaw.off_table else mesh
        gap = gap_to_flaw(part, flaw)
        what = "keeps what is below its table" if flaw.off_table else "keeps"
        require(
            gap >= flaw.clearance_mm - LENGTH_MM,
            f'{name} {what} clear of the flaw "{flaw.name}"',
            f"{gap:.9f} mm measured",
            f"at least {plain(flaw.clearance_mm, 9)} mm",
        )
        where = " below its table" if flaw.off_table else ""
        more = "at least " if flaw.mesh is not None else ""
        told.append(
            f'"{flaw.name}"{where} by {more}{gap:.6f} mm, with {plain(flaw.clearance_mm)} mm '
            "demanded"
        )
    return f"{name} keeps clear of the flaws: {'; '.join(told)}." if told else None


def part_below_table(mesh: Mesh, axis: Floats) -> Mesh:
    """What the table's outline, carried along the axis, cuts out of a convex stone."""
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
    """Least distance in mm from a convex stone to a flaw, zero or less where they meet; from a
    mesh at most 1.5 times its clearance, as far as is looked."""
    if flaw.mesh is None:
        return gap_to_core(stone.vertices, flaw) - flaw.radius_mm
    one, other = robust(stone, "the stone"), robust(flaw.mesh, f'the flaw "{flaw.name}"')
    shared = float((one ^ other).volume())
    return -shared if shared > 0.0 else float(one.min_gap(other, _SEARCH_SHARE * flaw.clearance_mm))


def gap_to_core(corners: Floats, flaw: Flaw) -> float:
    """Least distance in mm from the convex stone of these corners (k, 3) to a flaw's core.

    Never too large; zero or less where they meet.
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
    for _ in range(2):  # what is left of a nearly square direction is no longer in the sheet
        along = along - (along @ flaw.normal) * flaw.normal
        length = float(np.linalg.norm(along))
        along = along / length if length > 1e-12 else np.zeros(3)
    point: Floats = flaw.ends[0] - along * flaw.across_mm / 2.0
    return point


def _nearest_difference(core: Floats, corners: Floats) -> Floats:
    """The shortest vector (3,) from the hull of ``corners`` to the hull of ``core``.

    By least squares with shares that are not negative: Lawson and Hanson, Solving Least Squares
    Problems, 1974, chapter 23.
    """
    from scipy.optimize import nnls

    differences = (core[:, None] - corners[None]).reshape(-1, 3)
    scale = float(np.linalg.norm(differences, axis=1).min()) or 1.0
    system = np.vstack([differences.T / scale, np.ones(len(differences))])
    shares = nnls(system, np.array([0.0, 0.0, 0.0, 1.0]))[0]
    shortest: Floats = shares @ differences / shares.sum()
    return shortest
