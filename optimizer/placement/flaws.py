"""Flaws of the rough as walls that a growing stone keeps from, and where to start beside them."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from optimizer.mesh import Floats
from optimizer.placement.containers import Surface
from optimizer.placement.ground import Ground
from optimizer.rough.flaws import core_triangles
from optimizer.rough.model import Flaw

SPOTS = 25  # along the piece's longest side, of those that stand in for a flaw at the start


def flaw_walls(ground: Ground, flaws: Iterable[Flaw], skin_mm: float) -> tuple[Surface, ...]:
    """Each flaw's core as a container in the ground's own frame; exact, a sheet's rim apart.

    Every container adds the growth's own margin, which is the skin or, where a stone of fixed
    size grows by its clearance, σ. What the flaw's own distance differs from the skin is put on
    top. So in both cases the flaw's distance is kept where the skin is, and a stone of fixed size
    has as much to spare beside its flaws as beside the surface.
    """
    return tuple(
        Surface.over(triangles, flaw.keep_mm - skin_mm)
        for flaw, triangles in zip(flaws, _cores(ground, flaws), strict=True)
    )


def flaw_spots(ground: Ground, flaws: Iterable[Flaw]) -> Floats:
    """Points (n, 3) on the cores, as far as the piece reaches, that stand in for them."""
    low, high = ground.fine.min(axis=0), ground.fine.max(axis=0)
    spacing = float((high - low).max()) / SPOTS
    every = [_lattice(corners, spacing) for core in _cores(ground, flaws) for corners in core]
    points = np.vstack([np.empty((0, 3)), *every])
    points = points[np.all((points >= low) & (points <= high), axis=1)]
    first = np.unique(np.floor(points / spacing), axis=0, return_index=True)[1]
    return np.ascontiguousarray(points[np.sort(first)])


def depths_beside(ground: Ground, flaws: Iterable[Flaw], skin_mm: float) -> Floats:
    """The depths (g,) of the ground's places where flaws count as the surface does; those of the
    surface alone where that leaves none."""
    from scipy.spatial import cKDTree

    depths = ground.depths
    for flaw in flaws:
        spots = flaw_spots(ground, [flaw])
        if len(spots):
            away = cKDTree(spots).query(ground.places)[0]
            depths = np.minimum(depths, away - flaw.keep_mm + skin_mm)
    return depths if depths.max() > 0.0 else ground.depths


def _cores(ground: Ground, flaws: Iterable[Flaw]) -> Iterator[Floats]:
    """The cores' triangles (k, 3, 3) in the ground's own frame."""
    for flaw in flaws:
        normal = None if flaw.normal is None else flaw.normal @ ground.ground2scan
        ends = (flaw.ends - ground.origin) @ ground.ground2scan
        corners = ground.surface.triangles.reshape(-1, 3)
        yield core_triangles(replace(flaw, ends=ends, normal=normal), corners)


def _lattice(corners: Floats, spacing: float) -> Floats:
    """Points of a triangle (3, 3), its corners among them, no further apart than ``spacing``."""
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1).max()
    n = max(1, int(np.ceil(longest / spacing)))
    i, j = np.meshgrid(np.arange(n + 1), np.arange(n + 1), indexing="ij")
    inside = i + j <= n
    u, v = i[inside] / n, j[inside] / n
    points: Floats = np.column_stack([1.0 - u - v, u, v]) @ corners
    return points
