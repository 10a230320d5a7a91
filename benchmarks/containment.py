"""How large a stone is at a pose, judged exactly by general libraries, for methods to compare with.

- The size at a pose is computed, so a method need not search for it beside the rest.
- It is first read off points of the surface by matrix products: the largest width at which each of
  them is at least the skin beyond some facet's plane. That is a smooth guide, at well under a
  millisecond a pose. A convex piece needs no points: its planes give the size exactly.
- Only a pose that would beat the best so far is judged exactly: scipy's root finder seeks the
  width at which the robust kernel's least distance from the stone to all that is not rough
  (manifold3d's min_gap, on the full mesh) is the skin. Only widths judged so count as found. One
  call of the kernel at the best width so far weeds out those that the guide overrates.

Also tried, with differential evolution: the exact test only for each generation's best (about as
good on a dense scan, but on a coarse one poses that slip between the points take over the
population), four times as many points (no better), and one matrix product for all points (many
times slower: the linear algebra library's own threads wait for each other). Not tried: size as a
seventh unknown, or the exact test at every pose, since one call of the kernel costs as much as some
six to sixty poses of the guide.
"""

from dataclasses import dataclass, field
from time import perf_counter
from typing import Any

import manifold3d
import numpy as np
import trimesh
from scipy.optimize import brentq
from scipy.spatial import ConvexHull, cKDTree
from scipy.spatial.transform import Rotation

from optimizer.design.model import Body
from optimizer.mesh import Floats, Mesh
from optimizer.solid import as_solid

POINTS = 5000  # of the surface, that guide a method: about a percent in size
BLOCK = 1000  # points to a matrix product, so that it stays in the cache and in one thread
MISLED = 0.9  # a pose that the points call more than a tenth too large is counted as not fitting
WORSE = 0.95  # of the best: half way, for a pose that fits somewhere between MISLED of it and it
EXACT_MM = 1e-3  # the width judged exactly is found to this: 0.03 % of the carats or so


@dataclass(frozen=True)
class Piece:
    """A piece of rough as general libraries see it."""

    outside: Any  # manifold3d: all that is not rough, in a box
    points: Floats  # (n, 3) of the surface
    normals: Floats  # (n, 3) outward there
    blocks: tuple[Floats, ...]  # the points again, (3, BLOCK) each
    tree: Any  # scipy's cKDTree of the points
    planes: Floats | None  # (m, 4) of a convex piece: normal·x + d <= 0 inside
    low: Floats  # (3,) corners of its box
    high: Floats

    @staticmethod
    def of(mesh: Mesh) -> "Piece":
        """Prepare a closed mesh."""
        low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
        box = manifold3d.Manifold.cube(tuple(high - low + 2.0)).translate(tuple(low - 1.0))
        solid = as_solid(mesh)
        hull = ConvexHull(mesh.vertices)
        convex = abs(hull.volume - solid.volume()) < 1e-9 * hull.volume
        surface = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
        points, face = trimesh.sample.sample_surface_even(surface, POINTS, seed=0)
        blocks = [points[i : i + BLOCK].T for i in range(0, len(points), BLOCK)]
        return Piece(
            outside=box - solid,
            points=points,
            normals=surface.face_normals[face],
            blocks=tuple(np.ascontiguousarray(block) for block in blocks),
            tree=cKDTree(points),
            planes=np.unique(hull.equations, axis=0) if convex else None,
            low=low,
            high=high,
        )


@dataclass
class Judge:
    """What one run of a method has found so far, and when. Several threads may ask it at once."""

    piece: Piece
    body: Body  # its girdle a share of the width, so that it keeps its shape as it grows
    skin_mm: float
    seconds: float  # how long the run may last
    started: float = field(default_factory=perf_counter)
    found: list[tuple[float, float]] = field(default_factory=lambda: [(0.0, 0.0)])
    judged: int = 0  # poses by the guide

    def width_by(self, seconds: float) -> float:
        """The best width judged exactly within the first ``seconds``."""
        return max(width for at, width in self.found if at <= seconds)

    def seconds_to(self, width: float) -> float:
        """When a width as large as this was first found; infinite where it was not."""
        return min((at for at, found in self.found if found >= width), default=np.inf)

    def time_is_up(self) -> bool:
        """Whether the run must end."""
        return perf_counter() - self.started >= self.seconds

    def loss(self, unknowns: Floats) -> float:
        """Less the size at a pose: a rotation vector and the place of the stone's origin, (6,)."""
        rotation, place = Rotation.from_rotvec(unknowns[:3]).as_matrix(), unknowns[3:]
        self.judged += 1
        width = self._guide(rotation, place)
        if width <= self.found[-1][1]:
            return -width
        width = self._exact(rotation, place, width)
        if width > self.found[-1][1]:  # two threads may append out of order: the best counts
            self.found.append((perf_counter() - self.started, width))
        return -width

    def _guide(self, rotation: Floats, place: Floats) -> float:
        if self.piece.planes is not None:
            return self._guide_by_planes(self.piece.planes, rotation, place)
        away, nearest = self.piece.tree.query(place)
        height = (place - self.piece.points[nearest]) @ self.piece.normals[nearest]
        if height > 0.0:
            return -float(away)  # outside, and so far
        facets = (self.body.normals / self.body.offsets[:, None]) @ rotation.T
        least = (facets @ place + self.skin_mm / self.body.offsets)[:, None]
        return min(float((facets @ block - least).max(axis=0).min()) for block in self.piece.blocks)

    def _guide_by_planes(self, planes: Floats, rotation: Floats, place: Floats) -> float:
        room = -planes[:, 3] - planes[:, :3] @ place - self.skin_mm
        reach = (planes[:, :3] @ (self.body.vertices @ rotation.T).T).max(axis=1)
        return float((room / reach).min())

    def _exact(self, rotation: Floats, place: Floats, guess: float) -> float:
        def spare(width: float) -> float:
            mesh = self.body.mesh_at(width)
            stone = as_solid(Mesh(mesh.vertices @ rotation.T + place, mesh.faces))
            return float(stone.min_gap(self.piece.outside, 2.0 * self.skin_mm)) - self.skin_mm

        if spare(guess) >= 0.0:
            return guess
        best = self.found[-1][1]
        if best > 0.0 and spare(best) < 0.0:  # no better: how much worse is not worth its time
            return WORSE * best if spare(MISLED * best) >= 0.0 else 0.0
        least = max(best, MISLED * guess)
        if least > best and spare(least) < 0.0:
            return 0.0
        width = float(brentq(spare, least, guess, xtol=EXACT_MM))
        return width if spare(width) >= 0.0 else width - EXACT_MM
