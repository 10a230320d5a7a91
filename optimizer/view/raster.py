"""Shaded pictures of meshes in parallel projection, drawn pixel by pixel."""

from dataclasses import dataclass

import numpy as np

from optimizer.mesh import Floats, Ints, Mesh, lengths, vector_areas
from optimizer.view.kernels.raster import cover
from optimizer.view.layer import Colours
from optimizer.view.look import View
from optimizer.view.packing import SMOOTH_FROM_TRIANGLES

# The two lamps of the 3D view: strength, and where from (right, up, towards the eye).
_AMBIENT = 0.42
_LAMPS = ((0.46, (-0.5, 0.7, 0.8)), (0.22, (0.8, -0.1, 0.5)))
_HIDDEN_SHARE = 0.01  # of the view's height: a point this little behind the surface counts as on it


@dataclass(frozen=True)
class Frame:
    """Where a view lies on its picture: the upper left ``corner`` (2,) in mm; rows run down."""

    view: View
    corner: Floats
    pixels_per_mm: float
    rows: int
    columns: int

    def spots(self, points: Floats) -> Floats:
        """Where points (..., 3) lie on the picture, in pixels (..., 2): column, row."""
        flat = self.view.flat(points)
        return np.asarray((flat - self.corner) * [self.pixels_per_mm, -self.pixels_per_mm])

    def depths(self, points: Floats) -> Floats:
        """How far towards the eye points (..., 3) lie, mm."""
        return np.asarray(points @ self.view.out)


@dataclass(frozen=True)
class PixelOwners:
    """What a picture shows at each pixel: ``owner`` (rows, columns) the triangle, -1 for none."""

    frame: Frame
    owner: Ints
    nearest: Floats  # (rows, columns) mm towards the eye, -inf where nothing is

    @property
    def owners(self) -> Ints:
        """The triangle (k,) at each pixel that shows one, row by row."""
        return self.owner[self.owner >= 0]

    def places(self) -> Floats:
        """The place (k, 3) on the surface that is seen at the middle of each of these pixels."""
        row, column = np.nonzero(self.owner >= 0)
        flat = np.column_stack([column + 0.5, -(row + 0.5)]) / self.frame.pixels_per_mm
        right, up = (flat + self.frame.corner).T
        view, depth = self.frame.view, self.nearest[row, column]
        axes = np.array([view.right, view.up, view.out])
        return np.asarray(np.column_stack([right, up, depth]) @ axes)

    def unhidden(self, points: Floats) -> np.ndarray:
        """Which of ``points`` (n, 3) near the surface the surface does not hide, (n,)."""
        column, row = np.floor(self.frame.spots(points)).astype(int).T
        inside = (
            (row >= 0) & (row < self.frame.rows) & (column >= 0) & (column < self.frame.columns)
        )
        row, column = (
            np.clip(row, 0, self.frame.rows - 1),
            np.clip(column, 0, self.frame.columns - 1),
        )
        reach = self.frame.rows / self.frame.pixels_per_mm
        at = self.nearest[row, column]
        return np.asarray(inside & (self.frame.depths(points) >= at - _HIDDEN_SHARE * reach))


def visible_triangles(mesh: Mesh, frame: Frame) -> PixelOwners:
    """The triangle of a closed mesh that is seen at each pixel of a frame."""
    nearest = np.full((frame.rows, frame.columns), -np.inf)
    owner = np.full((frame.rows, frame.columns), -1, np.int64)
    cover(frame.spots(mesh.vertices), frame.depths(mesh.vertices), mesh.faces, nearest, owner)
    return PixelOwners(frame, owner, nearest)


def shading_normals(mesh: Mesh) -> Floats:
    """Unit normals (m, 3) of the triangles, smoothed over a scan's many small ones."""
    corners = mesh.triangles
    across = vector_areas(corners)
    if len(mesh.faces) >= SMOOTH_FROM_TRIANGLES:
        joint = np.zeros((len(mesh.vertices), 3))
        for axis in range(3):
            weight = np.repeat(across[:, axis], 3)
            joint[:, axis] = np.bincount(mesh.faces.ravel(), weight, len(mesh.vertices))
        across = joint[mesh.faces].sum(axis=1)
    return np.asarray(across / np.maximum(lengths(across), 1e-300)[:, None])


def brightness(normals: Floats, view: View) -> Floats:
    """The brightness (m,) of triangles whose normals are ``normals`` (m, 3)."""
    bright = np.full(len(normals), _AMBIENT)
    for strength, lamp in _LAMPS:
        way = np.array(lamp) @ np.array([view.right, view.up, view.out]) / np.linalg.norm(lamp)
        bright += strength * np.maximum(0.0, normals @ way)
    return bright


def shaded(seen: PixelOwners, bright: Floats, colours: Floats, paper: Colours) -> Colours:
    """The picture (rows, columns, 3): the colour ``paper`` (3,) where nothing is seen, elsewhere
    ``colours`` (k, 3), 0 to 255, times how ``bright`` (m,) the triangle is."""
    picture = np.broadcast_to(paper, (*seen.owner.shape, 3)).copy()
    lit = colours * bright[seen.owners][:, None]
    picture[seen.owner >= 0] = np.clip(lit, 0.0, 255.0).astype(np.uint8)
    return picture
