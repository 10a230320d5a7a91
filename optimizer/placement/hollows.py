"""What no stone may enter, told to the proof as balls, and what a stone at a pose swallows."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from optimizer.design.model import Body
from optimizer.mesh import Floats
from optimizer.placement.containers import Planes, Surface, in_scan
from optimizer.placement.flaws import flaw_spots
from optimizer.placement.ground import Ground, outside_places
from optimizer.placement.growing import by_width
from optimizer.placement.kernels.contacts import uncrowded_depth
from optimizer.placement.kernels.voids import Voids
from optimizer.placement.model import Pose
from optimizer.placement.voids import no_voids, voids_about
from optimizer.rough.model import Flaw

PARTS = 64  # parts of the surface whose nearest triangles are looked at
ROOM = 1024  # triangles at most
SAME_SIZE = 1e-7  # relative: a stone that is held within this is not swallowing

Swallowed = Callable[[Pose], Floats]
"""Balls (n, 4), middle and radius, that a stone at a pose swallows: none where it lies clear."""


@dataclass(frozen=True)
class Hollows:
    """Balls (n, 3) with their radii (n,) that no stone enters, in the ground's own frame: points
    of flaws with their clearance first, then those of the surface and of hollows, in no order."""

    balls: Floats
    radii: Floats
    flaws: int  # how many balls are of flaws
    surface: Surface
    skin_mm: float
    voids: Voids  # that no corner of a stone enters

    @staticmethod
    def of(ground: Ground, hull: Planes, skin_mm: float, flaws: Iterable[Flaw]) -> "Hollows":
        """Those of a piece within ``hull``; flaws that are allowed in the stone are left out."""
        outside = outside_places(ground)
        outside = outside[np.all(outside @ hull.normals.T <= hull.offsets, axis=1)]
        outside = outside[[not ground.surface.holds(place) for place in outside]]
        kept_out = [flaw for flaw in flaws if not flaw.off_table]
        spots = [flaw_spots(ground, [flaw]) for flaw in kept_out]
        keeps = [np.full(len(s), f.keep_mm) for s, f in zip(spots, kept_out, strict=True)]
        rock = np.vstack([ground.fine, outside.reshape(-1, 3)])
        balls = [np.vstack([np.empty((0, 3)), *spots]), np.random.default_rng(0).permutation(rock)]
        radii = [np.concatenate([np.empty(0), *keeps]), np.full(len(rock), skin_mm)]
        return Hollows(
            np.vstack(balls), np.concatenate(radii), len(balls[0]), ground.surface, skin_mm,
            no_voids() if ground.convex else voids_about(ground, skin_mm),
        )  # fmt: skip

    def swallowed(self, body: Body) -> Swallowed:
        """Of all of the surface, the place that a stone at a pose enters by most; or its own
        middle, where that lies outside."""
        growth = by_width(body, self.skin_mm, np.inf)[0]

        def asked(pose: Pose) -> Floats:
            placed = in_scan(growth, pose.rotation, pose.translation)
            cut = pose.width * (1.0 - SAME_SIZE)
            depth = uncrowded_depth(self.surface.boxes, placed, cut, PARTS)
            near = self.surface.contacts(placed, cut, cut, ROOM, depth)
            if len(near.gauges):
                deepest = int(np.argmin(near.gauges))
                return np.array([[*near.points[deepest], self.skin_mm]])
            if not self.surface.holds(pose.translation):
                return np.array([[*pose.translation, self.skin_mm]])
            return np.empty((0, 4))

        return asked
