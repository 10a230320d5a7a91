"""Places, directions and planes given by named faces instead of coordinates."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from optimizer.mesh import Floats, Mesh, Plane, centroid, vector_areas
from optimizer.rough.model import ReferenceFace
from optimizer.rough.rough_file.keys import FaceDirectionTable
from optimizer.wording.plain_number import plain

PLATE = "plate"  # the name by which files speak of the plate that the piece rests on
LEAST_CORNER = 0.2  # volume of the three normals' box: below it, errors grow more than fivefold
LEAST_EDGE = 0.17  # sine of 10 degrees: two faces nearer to parallel make no clear edge
MOST_ROLL_DEG = 10.0  # the most that the stated direction down may be off the face it rests on


@dataclass
class NamedFaces:
    """The faces that a file may measure from, and a record of how they were used.

    ``flats`` finds the flat places on the scan; it is called only for names that the file does not
    state. ``notes`` collects how sure the places are, ``used`` the found flats that were named.
    """

    named: Mapping[str, Plane]
    flats: Callable[[], Iterable[ReferenceFace]] = tuple
    notes: list[str] = field(default_factory=list)
    used: dict[str, ReferenceFace] = field(default_factory=dict)

    def face(self, name: str) -> Plane:
        """The plane of a named face, its normal out of the piece. Raises ValueError."""
        if name in self.named:
            return self.named[name]
        found = {flat.name: flat for flat in self.flats()}
        if name not in found:
            # The numbered names all look alike, so all of them are listed.
            has = ", ".join(dict.fromkeys([*self.named, *found])) or "none"
            raise ValueError(f'names the face "{name}", which is not known; known faces: {has}')
        self.used[name] = found[name]
        return found[name].plane

    def place(self, stated: "list[float] | dict[str, float]", what: str) -> Floats:
        """The point (3,) in the scan frame. Raises ValueError where faces are near parallel."""
        if isinstance(stated, list):
            return np.array(stated, float)
        planes = [self.face(name) for name in stated]
        rows = np.array([plane.normal for plane in planes])
        if abs(np.linalg.det(rows)) < LEAST_CORNER:
            raise ValueError(
                f"is measured from {_listed(stated)}, which meet in no clear corner (two are "
                "nearly parallel, or all three run along one line): take faces more square to each "
                "other"
            )
        depths = np.array(list(stated.values()))
        offsets = np.array([plane.offset for plane in planes])
        inverse = np.linalg.inv(rows)
        # The worst case: each of the three distances is off, by an error of either sign.
        signs = np.array(np.meshgrid(*[[-1.0, 1.0]] * 3)).reshape(3, -1)
        most = float(np.linalg.norm(inverse @ signs, axis=0).max())
        point = np.asarray(inverse @ (offsets - depths))
        self.notes.append(
            f"{what} lies at {_triple(point)}, from {_listed(stated)}: if each distance is off by "
            f"0.1 mm, the place is off by up to {0.1 * most:.2f} mm"
        )
        return point

    def direction(self, stated: "list[float] | FaceDirectionTable") -> Floats:
        """The direction (3,) of length one. Raises ValueError where faces make no clear edge."""
        if isinstance(stated, list):
            return np.asarray(np.array(stated, float) / np.linalg.norm(stated))
        if stated.square_to is not None:
            return self.face(stated.square_to).normal
        assert stated.along_edge is not None
        one, two = (self.face(name).normal for name in stated.along_edge)
        edge = np.cross(one, two)
        if np.linalg.norm(edge) < LEAST_EDGE:
            raise ValueError(
                f"runs along the edge of {_listed(stated.along_edge)}, which are nearly parallel: "
                "take two faces that meet at more than 10 degrees"
            )
        return np.asarray(edge / np.linalg.norm(edge))

    def beneath(self, name: str, depth_mm: float) -> Plane:
        """The plane parallel to a named face, ``depth_mm`` below it, its normal into the piece."""
        face = self.face(name)
        return Plane(-face.normal, depth_mm - face.offset)


def resting_plane(mesh: Mesh, down: Floats) -> Plane:
    """The plate that a piece rests on with ``down`` (3,) downwards, its normal out of the piece.

    The piece rests on the face of its convex hull straight below its centre of gravity; on any
    other face it would roll. Raises ValueError where that face leans more than ten degrees from
    ``down``.
    """
    from optimizer.solid import as_mesh, as_solid

    hull = as_mesh(as_solid(mesh).hull())
    down = down / np.linalg.norm(down)
    corners = hull.triangles
    normals = vector_areas(corners)
    size = np.linalg.norm(normals, axis=1)
    corners, normals = corners[size > 0.0], normals[size > 0.0] / size[size > 0.0, None]
    offsets = np.einsum("ij,ij->i", normals, corners[:, 0])
    facing = normals @ down
    ahead = facing > 1e-9
    reach = (offsets[ahead] - normals[ahead] @ centroid(mesh)) / facing[ahead]
    under = np.flatnonzero(ahead)[np.argmin(reach)]
    lean = float(np.degrees(np.arccos(min(1.0, facing[under]))))
    if lean > MOST_ROLL_DEG:
        raise ValueError(
            f"is no direction in which the piece rests: it would roll by {lean:.0f} degrees, until "
            f"{_triple(normals[under])} points down; state the direction down as the piece lay"
        )
    return Plane(normals[under], float(offsets[under]))


def _listed(names: Iterable[str]) -> str:
    quoted = [f'"{name}"' for name in names]
    return ", ".join(quoted[:-1]) + " and " + quoted[-1]


def _triple(vector: Floats) -> str:
    return "(" + ", ".join(f"{plain(round(float(x), 3) + 0.0)}" for x in vector) + ")"
