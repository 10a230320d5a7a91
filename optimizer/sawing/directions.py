"""The directions in which caps may be cut off, in the stone frame."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull

from optimizer.design.model import Body
from optimizer.mesh import Floats, triangle_areas

FREE = 160  # directions spread over the sphere: about 16 degrees apart
BROAD_SIDES = 24  # broadest sides of the rough's hull that are tried
TWIN_DEG = 1.0  # a direction this near to an earlier one is dropped


@dataclass(frozen=True)
class CutDirection:
    """The outward unit normal of a cut, in the stone frame. ``easy``: the cut is easy to set up,
    since it follows an axis or the girdle of the stone, or a flat of the rough."""

    normal: Floats  # (3,)
    name: str  # completes "the cut runs ..."
    easy: bool
    table: bool = False  # whether the cut leaves the dopping flat
    out_mm: float = 0.0  # how much farther from the stone than the allowance asks


def directions(
    body: Body | None, references: dict[str, Floats], corners: Floats
) -> list[CutDirection]:
    """The candidate directions, the easiest to set up first, without near duplicates.

    All are in the stone frame. ``body``: the stone, or None for a group of stones. ``references``:
    more normals (3,) that are easy to set up, each under the words that say how such a cut runs.
    ``corners`` (n, 3): the corners of the rough's hull.
    """
    listed = [] if body is None else [*_axes(), *_facets(body, girdle=True)]
    listed += _references(references)
    listed += [] if body is None else _facets(body, girdle=False)
    listed += _broad_sides(corners)
    listed += [CutDirection(n, "at a free angle", False) for n in spread(FREE)]
    return _without_twins(listed)


def spread(count: int) -> Floats:
    """Unit vectors (count, 3) spread evenly by the golden angle (Fibonacci lattice)."""
    z = 1.0 - (2.0 * np.arange(count) + 1.0) / count
    turn = np.arange(count) * np.pi * (3.0 - np.sqrt(5.0))
    radius = np.sqrt(1.0 - z * z)
    return np.column_stack([radius * np.cos(turn), radius * np.sin(turn), z])


def _axes() -> list[CutDirection]:
    eye = np.eye(3)
    return [
        CutDirection(eye[2], "parallel to the table, on the table side", True, table=True),
        CutDirection(-eye[2], "parallel to the table, on the culet side", True),
        CutDirection(eye[0], "square to the length, on the + end", True),
        CutDirection(-eye[0], "square to the length, on the - end", True),
        CutDirection(eye[1], "square to the width, on the + side", True),
        CutDirection(-eye[1], "square to the width, on the - side", True),
    ]


def _facets(body: Body, girdle: bool) -> list[CutDirection]:
    upright = np.abs(body.normals[:, 2]) < 1e-6
    return [
        CutDirection(normal, f"parallel to facet {name}", girdle)
        for normal, name, is_girdle in zip(body.normals, body.facet_names, upright, strict=True)
        if is_girdle == girdle
    ]


def _references(references: dict[str, Floats]) -> list[CutDirection]:
    return [
        CutDirection(sign * normal, name, True)
        for name, normal in references.items()
        for sign in (1.0, -1.0)
    ]


def _broad_sides(corners: Floats) -> list[CutDirection]:
    """Area-weighted normals of the hull's broadest sides: its triangles are gathered around evenly
    spread directions, and the directions with the largest areas are taken."""
    hull = ConvexHull(corners)
    triangles = corners[hull.simplices]
    areas = triangle_areas(triangles)
    bins = spread(4 * FREE)
    nearest = np.argmax(hull.equations[:, :3] @ bins.T, axis=1)
    sums = np.zeros((len(bins), 3))
    np.add.at(sums, nearest, areas[:, None] * hull.equations[:, :3])
    size = np.linalg.norm(sums, axis=1)
    broadest = np.argsort(-np.round(size, 6), kind="stable")[:BROAD_SIDES]
    return [
        CutDirection(sums[i] / size[i], "parallel to a broad side of the rough", False)
        for i in broadest
        if size[i] > 0
    ]


def _without_twins(listed: list[CutDirection]) -> list[CutDirection]:
    near = np.cos(np.radians(TWIN_DEG))
    kept: list[CutDirection] = []
    for direction in listed:
        if not kept or np.max([k.normal @ direction.normal for k in kept]) < near:
            kept.append(direction)
    return kept
