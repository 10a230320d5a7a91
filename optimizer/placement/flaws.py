"""Flaws of the rough as walls that a growing stone keeps away from, and points to start beside."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.mesh import Floats, Mesh, triangle_areas
from optimizer.placement.containers import Container, Surface
from optimizer.placement.ground import Ground, places_within, stand_in
from optimizer.placement.holes import Hole, UnderTable
from optimizer.rough.flaws.shape import core_triangles, plane_spread
from optimizer.rough.model import Flaw

FEWEST_SPOTS = 30  # points at least for a mesh
SPOTS = 25  # points of a flaw, if it ran along the piece's longest side


def flaw_walls(ground: Ground, flaws: Iterable[Flaw], skin_mm: float) -> tuple[Container, ...]:
    """Each flaw's core as a container in the ground's own frame; exact, a sheet's rim apart.

    Every container adds the growth's own margin, which is the skin or, where a stone of fixed
    size grows by its clearance, σ. What the flaw's own distance differs from the skin is put on
    top. So in both cases the flaw's distance is kept where the skin is, and a stone of fixed size
    has as much to spare beside its flaws as beside the surface.
    """
    return tuple(
        _wall(flaw, Surface.over(triangles, flaw.keep_mm - skin_mm))
        for flaw, triangles in zip(flaws, _cores(ground, flaws), strict=True)
    )


def _wall(flaw: Flaw, surface: Surface) -> Container:
    wall = surface if flaw.mesh is None else Hole(surface)
    return UnderTable(wall) if flaw.off_table else wall


@dataclass(frozen=True)
class KeptOut:
    """Straight pieces (n, 2, 3) within one flaw, of which the stone keeps ``keep_mm`` clear; the
    ends of a piece may be one point. The ground's own frame, mm."""

    segments: Floats
    keep_mm: float


def kept_out(ground: Ground, flaws: Iterable[Flaw], most: int) -> tuple[KeptOut, ...]:
    """For each flaw that must stay wholly outside the stone, at most ``most`` straight pieces of
    its core: what no stone can hold. All of a point or line; chords of a sheet, evenly apart and
    crossing; points of a mesh and one within it. Flaws allowed off the table are left out.
    """
    kept = [_in_ground(ground, flaw) for flaw in flaws if not flaw.off_table]
    reach = float(np.ptp(ground.surface.triangles.reshape(-1, 3), axis=0).max()) * np.sqrt(3.0)
    return tuple(KeptOut(_segments(flaw, reach, most), flaw.keep_mm) for flaw in kept)


def _segments(flaw: Flaw, reach: float, most: int) -> Floats:
    if flaw.mesh is not None:
        corners = flaw.mesh.vertices
        step = -(-len(corners) // max(most - 1, 1))
        points = np.vstack([flaw.ends, corners[::step]])[:most]
        return np.stack([points, points], axis=1)
    if flaw.normal is None:
        return flaw.ends[[0, -1]][None]
    radius = min(flaw.across_mm / 2.0, reach + float(np.linalg.norm(flaw.ends[0])))
    count = max(1, most // 2)
    aside = radius * ((2.0 * np.arange(count) + 1.0) / count - 1.0)
    half = np.sqrt(radius**2 - aside**2)
    ways = plane_spread(flaw.normal, np.array([0.0, 0.5 * np.pi]))
    families = [
        flaw.ends[0] + np.outer(aside, one)[:, None] + half[:, None, None] * np.stack([-two, two])
        for one, two in (ways, ways[::-1])
    ]
    return np.vstack(families)


def flaw_spots(ground: Ground, flaws: Sequence[Flaw]) -> Floats:
    """Points (n, 3) on the cores, as far as the piece reaches, that stand in for them."""
    low, high = ground.fine.min(axis=0), ground.fine.max(axis=0)
    spacing = float((high - low).max()) / SPOTS
    every = [
        [_over(core, spacing)] if flaw.mesh else [_lattice(corners, spacing) for corners in core]
        for flaw, core in zip(flaws, _cores(ground, flaws), strict=True)
    ]
    points = np.vstack([np.empty((0, 3)), *(part for parts in every for part in parts)])
    points = points[np.all((points >= low) & (points <= high), axis=1)]
    first = np.unique(np.floor(points / spacing), axis=0, return_index=True)[1]
    return np.ascontiguousarray(points[np.sort(first)])


def depths_beside(ground: Ground, flaws: Sequence[Flaw], skin_mm: float) -> Floats:
    """The depths (g,) of the ground's places where flaws count as the surface does; those of the
    surface alone where that leaves none."""
    from scipy.spatial import cKDTree

    depths = ground.depths
    for flaw, core in zip(flaws, _cores(ground, flaws), strict=True):
        spots = flaw_spots(ground, [flaw])
        if len(spots):
            away = cKDTree(spots).query(ground.places)[0]
            depths = np.minimum(depths, away - flaw.keep_mm + skin_mm)
        if flaw.mesh is not None:
            depths = np.where(places_within(ground, core), -np.abs(depths), depths)
    return depths if depths.max() > 0.0 else ground.depths


def _cores(ground: Ground, flaws: Iterable[Flaw]) -> Iterator[Floats]:
    """The cores' triangles (k, 3, 3) in the ground's own frame."""
    corners = ground.surface.triangles.reshape(-1, 3)
    for flaw in flaws:
        yield core_triangles(_in_ground(ground, flaw), corners)


def _in_ground(ground: Ground, flaw: Flaw) -> Flaw:
    """The flaw in the ground's own frame."""
    normal = None if flaw.normal is None else flaw.normal @ ground.ground2scan
    ends = (flaw.ends - ground.origin) @ ground.ground2scan
    mesh = flaw.mesh
    if mesh is not None:
        moved = (mesh.vertices - ground.origin) @ ground.ground2scan
        mesh = Mesh(np.ascontiguousarray(moved), mesh.faces)
    return replace(flaw, ends=ends, normal=normal, mesh=mesh)


def _over(triangles: Floats, spacing: float) -> Floats:
    """Points on a closed surface, about ``spacing`` apart."""
    area = float(triangle_areas(triangles).sum())
    return stand_in(triangles, max(FEWEST_SPOTS, int(area / spacing**2)))


def _lattice(corners: Floats, spacing: float) -> Floats:
    """Points of a triangle (3, 3), its corners among them, no further apart than ``spacing``."""
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1).max()
    n = max(1, int(np.ceil(longest / spacing)))
    i, j = np.meshgrid(np.arange(n + 1), np.arange(n + 1), indexing="ij")
    inside = i + j <= n
    u, v = i[inside] / n, j[inside] / n
    points: Floats = np.column_stack([1.0 - u - v, u, v]) @ corners
    return points
