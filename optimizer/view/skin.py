"""Lines on the surface of a mesh."""

import numpy as np

from optimizer.mesh import Floats, Mesh


def skin_line(mesh: Mesh, heights: Floats) -> Floats:
    """The line on the surface along which a height is zero, (k, 2, 3): one segment per triangle.

    ``heights`` (n,) are the corners' heights; in between they are interpolated linearly.
    """
    above = heights > 0.0
    count = above[mesh.faces].sum(axis=1)
    faces = mesh.faces[(count == 1) | (count == 2)]
    sides = np.stack([faces, np.roll(faces, -1, axis=1)], axis=2)  # (k, 3, 2) each side's ends
    crossed = above[sides[..., 0]] != above[sides[..., 1]]  # two sides of every triangle
    a, b = sides[crossed].T
    share = heights[a] / (heights[a] - heights[b])
    points = mesh.vertices[a] + share[:, None] * (mesh.vertices[b] - mesh.vertices[a])
    return np.asarray(points.reshape(-1, 2, 3), np.float64)
