"""Seeded generators of synthetic rough for the tests, in millimetres, and random rigid motions.

Every solid is closed, wound outward, one body, and (``hollow`` apart) one shell. The same
arguments give the same mesh, bit for bit, on one machine. Radial shapes are star-shaped about
the origin, so they never cross themselves.
"""

from collections.abc import Callable
from functools import cache

import manifold3d
import numpy as np

from optimizer.mesh import Floats, Ints, Mesh
from optimizer.solid import as_mesh, as_solid

_GOLDEN = (1.0 + 5.0**0.5) / 2.0


# --- plain solids -------------------------------------------------------------------------


def box(size: tuple[float, float, float] = (10.0, 10.0, 10.0)) -> Mesh:
    """A box of these edges centred on the origin; 12 triangles."""
    signs = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)], float)
    return hull(signs * np.asarray(size, float) / 2.0)


def icosphere(radius: float = 10.0, subdivisions: int = 3) -> Mesh:
    """A sphere's mesh with corners on the sphere; 20·4^subdivisions triangles."""
    mesh = hull(_icosahedron())
    for _ in range(subdivisions):
        mesh = _on_unit_sphere(_subdivided(mesh))
    return Mesh(mesh.vertices * radius, mesh.faces)


def ellipsoid(
    semi_axes: tuple[float, float, float] = (12.0, 9.0, 7.0), subdivisions: int = 3
) -> Mesh:
    """An ellipsoid's mesh with corners on the ellipsoid."""
    ball = icosphere(1.0, subdivisions)
    return Mesh(ball.vertices * np.asarray(semi_axes, float), ball.faces)


def hull(points: Floats) -> Mesh:
    """The convex hull of ``points`` (n, 3)."""
    return as_mesh(manifold3d.Manifold.hull_points(np.ascontiguousarray(points, float)))


def random_polytope(seed: int, corners: int = 24, radius: float = 10.0) -> Mesh:
    """The hull of random points on a sphere, stretched along random axes."""
    rng = np.random.default_rng(seed)
    points = _unit_vectors(rng, corners) * radius
    stretch = np.diag(rng.uniform(0.6, 1.4, 3))
    rotation = random_rotation(rng)
    return hull(points @ rotation @ stretch @ rotation.T)


# --- rough as it comes ----------------------------------------------------------------------


def pebble(seed: int, radius: float = 10.0, subdivisions: int = 4, noise_mm: float = 0.02) -> Mesh:
    """A lumpy, flattened pebble with scan noise; star-shaped, not convex."""
    rng = np.random.default_rng(seed)
    lumps = _lumps(rng, count=14, height=0.25, sharpness=14.0)
    stretch = rng.uniform(0.75, 1.3, 3)
    mesh = _radial(subdivisions, lambda u: radius * lumps(u))
    scattered = mesh.vertices + noise_mm * rng.standard_normal(mesh.vertices.shape)
    return Mesh(scattered * stretch, mesh.faces)


def dented(seed: int, radius: float = 10.0, dents: int = 4, subdivisions: int = 4) -> Mesh:
    """A ball with smooth dents up to half the radius deep; star-shaped, not convex."""
    rng = np.random.default_rng(seed)
    pits = _lumps(rng, count=dents, height=-0.5, sharpness=12.0)
    return _radial(subdivisions, lambda u: radius * pits(u))


def notched(size: tuple[float, float, float] = (20.0, 14.0, 12.0), depth: float = 6.0) -> Mesh:
    """A box with a sharp V sawn into its top (+z) across the middle, ``depth`` mm deep."""
    _, width, height = size
    top = height / 2.0
    ends = (-width, width)
    wedge = [[0.0, y, top - depth] for y in ends]
    wedge += [[s * (depth + 1.0) / 2.0, y, top + 1.0] for s in (-1, 1) for y in ends]
    return as_mesh(as_solid(box(size)) - as_solid(hull(np.array(wedge))))


def slab(seed: int, length: float = 30.0, thickness: float = 6.0, subdivisions: int = 4) -> Mesh:
    """A piece with two sawn parallel faces (z = ±thickness/2) and a rough natural edge."""
    outline = pebble(seed, length / 2.0, subdivisions)
    half = thickness / 2.0
    solid = as_solid(outline).trim_by_plane((0, 0, 1), -half).trim_by_plane((0, 0, -1), -half)
    return as_mesh(solid)


def bent(
    radius: float = 15.0, thickness: float = 4.0, turn_deg: float = 150.0, rings: int = 40
) -> Mesh:
    """A round bar bent about z, its ends flat: far from star-shaped, its hull mostly empty."""
    round_about = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
    section = np.column_stack([radius + thickness * np.cos(round_about), np.sin(round_about)])
    turns = np.radians(np.linspace(0.0, turn_deg, rings))
    along = [
        np.column_stack([section[:, 0] * np.cos(a), section[:, 0] * np.sin(a), section[:, 1]])
        for a in turns
    ]
    vertices = np.concatenate(along) * np.array([1.0, 1.0, thickness])
    return Mesh(vertices, _tube_faces(rings, len(round_about)))


def crystal(seed: int, length: float = 24.0, width: float = 10.0, subdivisions: int = 5) -> Mesh:
    """A six-sided prism with uneven sides and a pointed end, its surface finely triangulated."""
    rng = np.random.default_rng(seed)
    sides = np.radians(np.arange(0, 360, 60)) + rng.uniform(-0.05, 0.05, 6)
    flat = np.column_stack([np.cos(sides), np.sin(sides), np.zeros(6)])
    steep = np.column_stack([0.75 * flat[:, :2], np.full(6, 0.66)])
    normals = np.concatenate([flat, steep, [[0.0, 0.0, -1.0]]])
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    offsets = np.concatenate(
        [rng.uniform(0.9, 1.1, 6) * width, np.full(6, length * 0.66), [length]]
    )
    return _radial(subdivisions, lambda u: 0.5 / np.max(u @ normals.T / offsets, axis=1))


def hollow(outer: Mesh, cavity: Mesh) -> Mesh:
    """``outer`` with a closed bubble: ``cavity`` must lie wholly inside it. Two shells."""
    return Mesh(
        np.concatenate([outer.vertices, cavity.vertices]),
        np.concatenate([outer.faces, cavity.faces[:, ::-1] + len(outer.vertices)]),
    )


def with_needle(mesh: Mesh, face: int, tip: Floats, share: float = 1e-6) -> Mesh:
    """``mesh`` with a spike of three long thin triangles from inside ``face`` to ``tip``.

    A small copy of the triangle (``share`` of its size, about its centre) becomes the spike's
    foot, joined to the rest by six triangles in the same plane, so the solid stays closed. A tip
    inside the solid makes an empty needle (the solid loses next to no volume), one outside a
    bristle. ``share`` may go down to 1e-9.
    """
    corners = mesh.faces[face]
    centre = mesh.vertices[corners].mean(axis=0)
    foot = centre + share * (mesh.vertices[corners] - centre)
    n = len(mesh.vertices)
    spike = [[n + k, n + (k + 1) % 3, n + 3] for k in range(3)]
    skirt = [[corners[k], corners[(k + 1) % 3], n + (k + 1) % 3] for k in range(3)]
    skirt += [[corners[k], n + (k + 1) % 3, n + k] for k in range(3)]
    return Mesh(
        np.concatenate([mesh.vertices, foot, np.reshape(tip, (1, 3))]),
        np.concatenate([np.delete(mesh.faces, face, axis=0), np.array(skirt + spike)]),
    )


# --- rigid motions --------------------------------------------------------------------------


def random_rotation(rng: np.random.Generator) -> Floats:
    """A proper rotation (3, 3), uniform over all rotations, by a normalised random quaternion."""
    w, x, y, z = _unit_vectors(rng, 1, dimensions=4)[0]
    return np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
            [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
            [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )


def random_motion(rng: np.random.Generator, reach: float = 50.0) -> tuple[Floats, Floats]:
    """A random rotation (3, 3) and translation (3,) with each part within ±``reach`` mm."""
    return random_rotation(rng), rng.uniform(-reach, reach, 3)


def moved(mesh: Mesh, rotation: Floats, translation: Floats) -> Mesh:
    """The mesh under x -> translation + rotation·x."""
    return Mesh(mesh.vertices @ rotation.T + translation, mesh.faces)


def scaled(mesh: Mesh, factor: float) -> Mesh:
    """The mesh ``factor`` times as large about the origin."""
    return Mesh(mesh.vertices * factor, mesh.faces)


@cache
def all_rough(seed: int = 0) -> dict[str, Mesh]:
    """One of each kind, small, by name: for tests that must hold on any rough."""
    return {
        "box": box(),
        "ball": icosphere(),
        "ellipsoid": ellipsoid(),
        "polytope": random_polytope(seed),
        "pebble": pebble(seed, subdivisions=3),
        "dented": dented(seed, subdivisions=3),
        "notched": notched(),
        "slab": slab(seed, subdivisions=3),
        "bent": bent(),
        "crystal": crystal(seed, subdivisions=3),
    }


# --- helpers --------------------------------------------------------------------------------


def _icosahedron() -> Floats:
    plain = np.array([[0.0, s, t * _GOLDEN] for s in (-1, 1) for t in (-1, 1)])
    points = np.concatenate([np.roll(plain, k, axis=1) for k in range(3)])
    return points / np.linalg.norm(points[0])


def _unit_vectors(rng: np.random.Generator, count: int, dimensions: int = 3) -> Floats:
    points = rng.standard_normal((count, dimensions))
    return points / np.linalg.norm(points, axis=1)[:, None]


def _on_unit_sphere(mesh: Mesh) -> Mesh:
    return Mesh(mesh.vertices / np.linalg.norm(mesh.vertices, axis=1)[:, None], mesh.faces)


def _subdivided(mesh: Mesh) -> Mesh:
    """Each triangle in four, by the middles of its edges."""
    sides = np.sort(mesh.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    edges, which = np.unique(sides, axis=0, return_inverse=True)
    middles = mesh.vertices[edges].mean(axis=1)
    m = which.reshape(-1, 3) + len(mesh.vertices)
    a, b, c = mesh.faces.T
    quarters = [[a, m[:, 0], m[:, 2]], [m[:, 0], b, m[:, 1]], [m[:, 2], m[:, 1], c], list(m.T)]
    faces = np.concatenate([np.column_stack(q) for q in quarters])
    return Mesh(np.concatenate([mesh.vertices, middles]), faces)


def _radial(subdivisions: int, radius_of: Callable[[Floats], Floats]) -> Mesh:
    """The star-shaped solid r(u)·u over the directions u of an icosphere."""
    ball = icosphere(1.0, subdivisions)
    return Mesh(ball.vertices * radius_of(ball.vertices)[:, None], ball.faces)


def _lumps(
    rng: np.random.Generator, count: int, height: float, sharpness: float
) -> Callable[[Floats], Floats]:
    """1 + smooth lumps (dents where ``height`` is negative) about random directions."""
    peaks = _unit_vectors(rng, count)
    heights = height * rng.uniform(0.5, 1.0, count)

    def radius(u: Floats) -> Floats:
        each = heights * np.exp(sharpness * (u @ peaks.T - 1.0))
        return 1.0 + np.clip(each.sum(axis=1), -0.6, None)

    return radius


def _tube_faces(rings: int, around: int) -> Ints:
    """Triangles of a tube of ``rings`` rings with ``around`` corners each, both ends capped."""
    faces = []
    for r in range(rings - 1):
        for k in range(around):
            a, b = r * around + k, r * around + (k + 1) % around
            faces += [[a, b + around, b], [a, a + around, b + around]]
    last = (rings - 1) * around
    faces += [[0, k, k + 1] for k in range(1, around - 1)]
    faces += [[last, last + k + 1, last + k] for k in range(1, around - 1)]
    return np.array(faces, np.int64)
