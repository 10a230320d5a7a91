"""A lighter copy of a dense mesh, for pictures only. Nothing is ever measured on it."""

import numpy as np
from numpy.typing import NDArray

from optimizer.mesh import Floats, Ints, Mesh, lengths
from optimizer.view.layer import ColouredMesh

MOST_TRIANGLES = 30_000  # keeps the page near 1 MB for any scan
HALVINGS = 10  # bisections, which find the size of a cell to a few parts in a thousand


def display_mesh(part: ColouredMesh, most_triangles: float = MOST_TRIANGLES) -> ColouredMesh:
    """``part`` itself if it is light enough, else ``lightened``."""
    return lightened(part, most_triangles)[0]


def lightened(part: ColouredMesh, most_triangles: float) -> tuple[ColouredMesh, float]:
    """(``part`` with at most ``most_triangles``, how far in mm its surface lies off at most).

    Vertex clustering (Rossignac and Borrel 1993): all corners in one cubic cell become their mean,
    and triangles that collapse are dropped. The smallest cell that leaves few enough triangles is
    taken. Each triangle left is an old one with its corners moved, so none of its points lies
    farther from the old surface than a corner was moved.
    """
    if len(part.mesh.faces) <= most_triangles:
        return part, 0.0
    extent = float(np.ptp(part.mesh.vertices, axis=0).max())
    fine, coarse = extent / 4096.0, extent / 4.0
    for _ in range(HALVINGS):
        cell = float(np.sqrt(fine * coarse))
        light = len(_uncollapsed(_keys(part.mesh, cell)[part.mesh.faces])) <= most_triangles
        fine, coarse = (fine, cell) if light else (cell, coarse)
    return _clustered(part, coarse)


def _clustered(part: ColouredMesh, cell_mm: float) -> tuple[ColouredMesh, float]:
    home = _cells(part.mesh, cell_mm)
    first = np.unique(home, return_index=True)[1]
    mesh = Mesh(_means(part.mesh.vertices, home), _uncollapsed(home[part.mesh.faces]))
    off = lengths(mesh.vertices[home] - part.mesh.vertices)
    return ColouredMesh(mesh, part.colours[first], part.closed), float(off.max())


def _cells(mesh: Mesh, cell_mm: float) -> Ints:
    """The number of the cell that each corner lies in, (n,), counted from 0 without gaps."""
    home: NDArray[np.int64] = np.unique(_keys(mesh, cell_mm), return_inverse=True)[1]
    return home


def _keys(mesh: Mesh, cell_mm: float) -> Ints:
    """A number (n,) for the cell that each corner lies in."""
    steps = np.floor((mesh.vertices - mesh.vertices.min(axis=0)) / cell_mm).astype(np.int64)
    side = int(steps.max()) + 1
    keys: Ints = (steps[:, 0] * side + steps[:, 1]) * side + steps[:, 2]
    return keys


def _means(points: Floats, home: Ints) -> Floats:
    count = np.bincount(home).astype(float)
    return np.stack([np.bincount(home, points[:, k]) / count for k in range(3)], axis=1)


def _uncollapsed(faces: Ints) -> Ints:
    a, b, c = faces.T
    kept: Ints = faces[(a != b) & (b != c) & (c != a)]
    return kept
