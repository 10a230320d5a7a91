"""Whether a stone lies in the rough as deep as the allowances demand, by the robust kernel."""

from typing import Any

import numpy as np

from optimizer.audit.common import (
    LENGTH_MM,
    OUTSIDE_SHARE,
    RoughSolid,
    require,
    robust,
)
from optimizer.mesh import Mesh, vector_areas
from optimizer.solid import volume_of
from optimizer.wording.plain_number import plain

_LOOK_FURTHER_MM = 0.05  # the gap is measured to a little more than what is demanded or stated


def inside_the_rough(
    stone: Mesh, rough: RoughSolid, skin_mm: float, stated_mm: float, name: str
) -> str:
    """The stone lies in the rough with ``skin_mm`` to spare and the stated clearance is true.

    There are two measures, since each misses what the other finds: the volume of stone minus rough
    (which misses needles), and the least distance from the stone to everything outside the rough,
    over all pairs of triangles that are near enough.
    """
    solid = robust(stone, name)
    share = share_outside(solid, rough)
    require(
        share <= OUTSIDE_SHARE,
        f"{name} lies in the rough",
        f"{plain(share, 3)} of its volume lies outside",
        f"at most {plain(OUTSIDE_SHARE, 1)}",
    )
    gap = gap_to_outside(stone, rough, max(skin_mm, stated_mm, 0.0) + _LOOK_FURTHER_MM)
    _require_gap(gap, skin_mm, stated_mm, name)
    return (
        f"{name} lies in the rough: {plain(share, 1)} of its volume is outside, and the distance "
        f"to everything outside is at least {gap:.6f} mm, with {plain(skin_mm)} mm demanded."
    )


def _require_gap(gap: float, skin_mm: float, stated_mm: float, name: str) -> None:
    measured = f"{gap:.9f} mm measured from stone to outside"
    require(
        gap >= skin_mm - LENGTH_MM,
        f"{name} keeps the skin",
        measured,
        f"at least {plain(skin_mm, 9)} mm",
    )
    require(
        stated_mm <= gap + LENGTH_MM,
        f"{name} has the stated clearance",
        measured,
        f"at least the {stated_mm:.9f} mm stated",
    )
    require(
        stated_mm >= skin_mm - LENGTH_MM,
        f"{name} states its clearance",
        f"{stated_mm:.9f} mm stated",
        f"at least the skin of {plain(skin_mm, 9)} mm",
    )


def share_outside(solid: Any, rough: RoughSolid) -> float:
    """The share of the stone's volume that lies outside the rough."""
    return volume_of(solid - rough.solid) / volume_of(solid)


def gap_to_outside(stone: Mesh, rough: RoughSolid, search_mm: float) -> float:
    """Least distance in mm from a convex stone to the outside of the rough; at most ``search_mm``.

    Zero where they touch. Negative (minus two millionths of a millimetre) where they overlap,
    however thinly: where the outside reaches even the stone shrunk by a millionth of a millimetre.
    """
    gap = float(robust(stone, "the stone").min_gap(rough.outside, search_mm))
    if gap > 0.0:
        return gap
    shrunk = robust(_shrunk(stone, LENGTH_MM), "the stone")
    return 0.0 if shrunk.min_gap(rough.outside, search_mm) > 0.0 else -2.0 * LENGTH_MM


def _shrunk(stone: Mesh, by_mm: float) -> Mesh:
    """The convex stone shrunk about its middle: every facet moves inwards by ``by_mm`` or more."""
    middle = stone.vertices.mean(axis=0)
    corners = stone.triangles - middle
    across = vector_areas(corners)
    area = np.linalg.norm(across, axis=1)
    real = area > 1e-9 * area.max()
    depth = np.einsum("ij,ij->i", across[real], corners[real, 0]) / area[real]
    keep = max(0.5, 1.0 - by_mm / float(depth.min()))
    return Mesh(middle + keep * (stone.vertices - middle), stone.faces)
