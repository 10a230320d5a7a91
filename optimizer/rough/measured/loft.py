"""A closed skin over rings of points that lie one above the other."""

import numpy as np

from optimizer.mesh import Floats, Ints, Mesh


def loft(rings: Floats, start: Floats, far: Floats) -> Mesh:
    """The skin through ``rings`` (k, n, 3), closed by a fan to the points ``start`` and ``far``.

    Each ring runs counter-clockwise as seen from ``far``, the first is nearest to ``start``. A
    fan's point that lies within its ring's plane makes a flat end, another one a tip.
    """
    count, around, _ = rings.shape
    vertices = np.vstack([rings.reshape(-1, 3), start, far])
    this = np.arange(around)
    after = np.roll(this, -1)
    bands = [
        _band(vertices, this + around * j, after + around * j, around) for j in range(count - 1)
    ]
    last = around * (count - 1)
    tip = np.full(around, len(vertices) - 2)
    faces = [
        np.column_stack([after, this, tip]),
        *bands,
        np.column_stack([this + last, after + last, tip + 1]),
    ]
    return Mesh(vertices, np.vstack(faces).astype(np.int64))


def _band(vertices: Floats, a: Ints, b: Ints, up: int) -> Ints:
    """Triangles (2n, 3) of the quadrilaterals a, b, b + ``up``, a + ``up``.

    The four corners need not lie in a plane: of the two ways to part a quadrilateral the one is
    taken that runs inside.
    """
    c, d = b + up, a + up
    pa, pb, pc, pd = (vertices[i] for i in (a, b, c, d))
    beyond = np.einsum("ij,ij->i", np.cross(pb - pa, pc - pa), pd - pa) > 0.0
    one = np.where(beyond, c, d)  # parted from a to c where d lies outside a, b, c; else b to d
    other = np.where(beyond, a, b)
    return np.vstack([np.column_stack([a, b, one]), np.column_stack([other, c, d])])


def steps(sweep: Floats | float, radius: Floats | float, sagitta_mm: float) -> int:
    """How many chords of arcs of ``sweep`` radians and ``radius`` mm cut inside by no more than
    ``sagitta_mm``, for the arc that needs most: r·(1 - cos(step/2))."""
    share = np.minimum(sagitta_mm / np.asarray(radius), 1.0)
    return int(np.ceil(np.max(np.asarray(sweep) / (2.0 * np.arccos(1.0 - share)))))
