"""What ``largest_copy`` is given: a body's corners and a container, checked before any work."""

from typing import Any

import numpy as np

from optimizer.errors import InputError
from optimizer.mesh import Floats, Mesh, unit_normals
from optimizer.placement.containers import Surface
from optimizer.wording.plain_number import plain

FARTHEST = 1e12  # coordinates beyond it resolve too little, and products of three may overflow
FLAT = 1e-9  # of the longest side: what is thinner spans no volume
LOOKS = 8  # triangles of a body, the widest first, beside which its outside is looked for
BESIDE = 1e-3  # of a triangle's width: how far beside it


def corners_given(vertices: Any) -> Floats:
    """The vertices (n, 3) as numbers.

    Raises InputError where they span no volume or are no places.
    """
    try:
        points = np.array(vertices, np.float64)
    except (TypeError, ValueError):
        raise InputError("the vertices are no numbers; give an (n, 3) array of them") from None
    if points.ndim != 2 or points.shape[1] != 3:
        raise InputError(f"the vertices have the shape {points.shape}; give an (n, 3) array")
    _refuse_far(points, "the vertices")
    if len(points) < 4:
        raise InputError(f"{len(points)} vertices span no volume; give at least 4, not flat")
    middle = points - points.mean(axis=0)
    thickness, *_, longest = np.sort(np.linalg.svd(middle, compute_uv=False))
    if not thickness > FLAT * longest:
        raise InputError("the vertices lie in one plane and span no volume; give a solid body's")
    return points


def container_given(container: Any) -> Mesh:
    """The container's surface, corners at the same place made one.

    Raises InputError where it does not bound one solid, each face outwards: where it is open, its
    faces contradict each other, it is inside out, it holds some space twice, or passes through
    itself.
    """
    from optimizer.rough.repair.mend import merge_corners

    mesh = merge_corners(_mesh_of(container)).mesh
    a, b, c = mesh.faces.T
    mesh = Mesh(mesh.vertices, mesh.faces[(a != b) & (b != c) & (c != a)])
    if not len(mesh.faces):
        raise InputError("the container has no faces; give a closed triangle mesh")
    _refuse_open(mesh)
    _refuse_crossing(mesh)
    _refuse_inside_out(mesh)
    return mesh


def _mesh_of(container: Any) -> Mesh:
    try:
        points = np.array(container.vertices, np.float64).reshape(-1, 3)
        faces = np.array(container.faces, np.int64).reshape(-1, 3)
    except (AttributeError, TypeError, ValueError):
        raise InputError(
            "the container is no triangle mesh; give a trimesh.Trimesh, or anything with vertices "
            "(n, 3) and faces (m, 3)"
        ) from None
    if len(faces) and not 0 <= faces.min() <= faces.max() < len(points):
        raise InputError(
            f"a face of the container names a vertex that is not among its {len(points)}; "
            "number them from 0"
        )
    _refuse_far(points[np.unique(faces)], "the container's vertices")
    return Mesh(points, faces)


def _refuse_far(points: Floats, what: str) -> None:
    if not np.isfinite(points).all():
        raise InputError(f"{what} hold a number that is not finite (NaN or infinite); leave it out")
    if not (np.abs(points) < FARTHEST).all():
        raise InputError(f"{what} run beyond {plain(FARTHEST)}; give them in a larger unit")


def _refuse_open(mesh: Mesh) -> None:
    """Each side of a face must be a side of another, run through the other way."""
    from optimizer.rough.repair.edges import edges_of

    edges = edges_of(mesh)
    ahead = np.add.reduceat(edges.forward(edges.sides).astype(np.int64), edges.starts)
    wrong = np.flatnonzero(2 * ahead != edges.count)
    if not len(wrong):
        return
    which = wrong[np.argmax(edges.count[wrong] % 2)]  # an open one, where there is any
    place = _place(mesh.vertices[edges.ends[edges.sides[edges.starts[which]]]].mean(axis=0))
    if edges.count[which] % 2:
        raise InputError(
            f"the container is open: at {len(wrong)} edges, the first at {place}, faces are "
            "missing or too many; give a closed mesh"
        )
    raise InputError(
        f"the container contradicts itself: at {len(wrong)} edges, the first at {place}, one face "
        "says outside where its neighbour says inside; wind all faces the same way "
        "(trimesh.repair.fix_normals)"
    )


def _refuse_inside_out(mesh: Mesh) -> None:
    """Outside every body of the surface there must be nothing of the solid, and inside it once."""
    from optimizer.rough.repair.edges import components, edges_of
    from optimizer.rough.repair.orient import signed_volumes

    side = float(np.ptp(mesh.vertices, axis=0).max())
    body = components(edges_of(mesh).joined() // 3, len(mesh.faces))
    volumes = signed_volumes(mesh, body)
    if not float(np.abs(volumes).max()) > FLAT * side**3:
        raise InputError("the container encloses no volume; give a solid")
    if volumes.sum() < 0.0:
        raise InputError(
            "the container is inside out: its faces run clockwise as seen from outside; turn them "
            "over (container.invert())"
        )
    surface = Surface.of(mesh)
    for number in range(len(volumes)):
        triangles = mesh.triangles[body == number]
        if _windings_outside(surface, triangles) not in (0, None):
            place = _place(triangles.mean(axis=(0, 1)))
            raise InputError(
                f"the container contradicts itself: its part about {place} holds space that "
                "another part holds as well, or is inside out; wind hollows the other way round "
                "than the solid, and leave out parts that lie in others"
            )


def _windings_outside(surface: Surface, triangles: Floats) -> int | None:
    """How often the surface winds round a place just outside one of its bodies; None where no
    large triangle tells."""
    across = unit_normals(triangles)
    widths = np.ptp(triangles, axis=1).max(axis=1)
    for k in np.argsort(-widths, kind="stable")[:LOOKS]:
        middle, step = triangles[k].mean(axis=0), BESIDE * widths[k] * across[k]
        outside, inside = (surface.windings(middle + way * step) for way in (1.0, -1.0))
        if inside == outside + 1:
            return outside
    return None


def _refuse_crossing(mesh: Mesh) -> None:
    from optimizer.rough.repair.crossing import crossing_pairs, resolution

    pairs = crossing_pairs(mesh, resolution(mesh.vertices))
    if len(pairs):
        place = _place(mesh.triangles[pairs[0]].reshape(-1, 3).mean(axis=0))
        raise InputError(
            f"the container passes through itself: {len(pairs)} pairs of its triangles cross, the "
            f"first at {place}; give the union of its parts"
        )


def _place(point: Floats) -> str:
    return "({:.4g}, {:.4g}, {:.4g})".format(*(point + 0.0))
