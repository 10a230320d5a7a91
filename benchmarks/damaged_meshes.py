"""Small sound meshes damaged at random, as scanners, converters and hands damage them: triangles
lost, doubled, turned and joined wrongly, corners moved, merged and parted, sizes out of proportion.

The same seed gives the same meshes.
"""

from collections.abc import Callable, Iterator
from functools import cache

import numpy as np

from benchmarks.pieces import shapes
from optimizer.mesh import Floats, Ints, Mesh
from optimizer.solid import as_mesh, as_solid

Chance = np.random.Generator
COUNTS = (1, 1, 1, 2, 3)  # of damages to one mesh: most that have many are plainly refused
SHARES = (1e-12, 1e-9, 1e-7, 1e-6, 1e-5, 1e-3, 0.02, 0.3)  # of the longest side: how far moved


def cases(seed: int = 0) -> Iterator[tuple[str, Mesh]]:
    """Damaged meshes without end: what was done to which, and the outcome. Case k hangs on
    ``seed`` and k alone."""
    number = 0
    while True:
        yield case(seed, number)
        number += 1


def case(seed: int, number: int) -> tuple[str, Mesh]:
    """One of the ``cases``."""
    chance = np.random.default_rng([seed, number])
    made = sound_meshes()
    name = list(made)[int(chance.integers(len(made)))]
    mesh, done = made[name], [name]
    for _ in range(int(chance.choice(COUNTS))):
        damage = DAMAGES[int(chance.integers(len(DAMAGES)))]
        if len(mesh.faces) > 1:
            mesh = damage(mesh, chance)
            done.append(damage.__name__.strip("_"))
    return " ".join(done), mesh


@cache
def sound_meshes() -> dict[str, Mesh]:
    """Closed solids of some tens to some thousands of triangles, about 20 mm long."""
    made = shapes()
    ball, cube = made.icosphere(10.0, 1), made.box((20.0, 14.0, 9.0))
    return {
        "box": cube,
        "fine box": _fine(cube, 3.0),
        "ball": ball,
        "fine ball": made.icosphere(10.0, 2),
        "dense ball": made.icosphere(10.0, 4),
        "torus": torus(8, 5),
        "fine torus": torus(24, 12),
        "crystal": made.random_polytope(5, 20),
        "notched": made.notched(),
        "plate": _fine(made.box((20.0, 20.0, 0.5)), 5.0),
        "bent": made.bent(rings=8),
        "two bodies": together(ball, _moved(made.box((3.0, 2.0, 2.0)), 13.0)),
        "two halves": together(cube, _moved(cube, 20.0)),
        "crossing": together(ball, _moved(made.icosphere(3.0, 1), 9.0)),
        "hollow": made.hollow(made.icosphere(10.0, 2), made.icosphere(3.0, 1)),
        "pebble": made.pebble(4, subdivisions=2),
    }


def torus(around: int, across: int, radius: float = 8.0, thickness: float = 3.0) -> Mesh:
    """A ring of ``around`` sections of ``across`` corners each."""
    a, b = np.meshgrid(np.arange(around), np.arange(across), indexing="ij")
    turn, lean = 2.0 * np.pi * a / around, 2.0 * np.pi * b / across
    out = radius + thickness * np.cos(lean)
    points = np.stack([out * np.cos(turn), out * np.sin(turn), thickness * np.sin(lean)], axis=-1)
    number = a * across + b
    ahead, up = np.roll(number, -1, axis=0), np.roll(number, -1, axis=1)
    both = np.roll(ahead, -1, axis=1)
    halves = [np.stack([number, ahead, both], axis=-1), np.stack([number, both, up], axis=-1)]
    return Mesh(points.reshape(-1, 3), np.concatenate(halves).reshape(-1, 3))


def together(one: Mesh, other: Mesh) -> Mesh:
    """Two meshes as one, joined nowhere."""
    return Mesh(
        np.vstack([one.vertices, other.vertices]),
        np.vstack([one.faces, other.faces + len(one.vertices)]),
    )


def _fine(mesh: Mesh, edge: float) -> Mesh:
    return as_mesh(as_solid(mesh).refine_to_length(edge))


def _moved(mesh: Mesh, x: float) -> Mesh:
    return Mesh(mesh.vertices + np.array([x, 0.0, 0.0]), mesh.faces)


# --- damages --------------------------------------------------------------------------------


def _some(count: int, chance: Chance) -> Ints:
    """A few of ``count`` things, at most a quarter of them."""
    most = int(chance.choice([1, 2, 5, 20]))
    return chance.choice(count, min(most, max(1, count // 4)), replace=False)


def _step(mesh: Mesh, chance: Chance) -> float:
    """A length from far below rounding to a third of the mesh."""
    return float(chance.choice(SHARES) * np.ptp(mesh.vertices, axis=0).max())


def _lost(mesh: Mesh, chance: Chance) -> Mesh:
    return Mesh(mesh.vertices, np.delete(mesh.faces, _some(len(mesh.faces), chance), axis=0))


def _doubled(mesh: Mesh, chance: Chance) -> Mesh:
    again = mesh.faces[_some(len(mesh.faces), chance)]
    way = int(chance.choice([1, -1]))  # as it was, or back to back
    return Mesh(mesh.vertices, np.vstack([mesh.faces, again[:, ::way]]))


def _turned(mesh: Mesh, chance: Chance) -> Mesh:
    faces = mesh.faces.copy()
    which = _some(len(faces), chance)
    faces[which] = faces[which][:, ::-1]
    return Mesh(mesh.vertices, faces)


def _inside_out(mesh: Mesh, _: Chance) -> Mesh:
    return Mesh(mesh.vertices, np.ascontiguousarray(mesh.faces[:, ::-1]))


def _shifted(mesh: Mesh, chance: Chance) -> Mesh:
    points = mesh.vertices.copy()
    which = _some(len(points), chance)
    points[which] += _step(mesh, chance) * chance.normal(size=(len(which), 3))
    return Mesh(points, mesh.faces)


def _noisy(mesh: Mesh, chance: Chance) -> Mesh:
    step = _step(mesh, chance) / 10.0
    return Mesh(mesh.vertices + step * chance.normal(size=mesh.vertices.shape), mesh.faces)


def _laid_on_corners(mesh: Mesh, chance: Chance) -> Mesh:
    """Some corners lie exactly where others do."""
    points = mesh.vertices.copy()
    which = _some(len(points), chance)
    points[which] = points[chance.integers(len(points), size=len(which))]
    return Mesh(points, mesh.faces)


def _laid_near_corners(mesh: Mesh, chance: Chance) -> Mesh:
    points = mesh.vertices.copy()
    which = _some(len(points), chance)
    others = points[chance.integers(len(points), size=len(which))]
    points[which] = others + _step(mesh, chance) / 10.0 * chance.normal(size=others.shape)
    return Mesh(points, mesh.faces)


def _laid_on_edges(mesh: Mesh, chance: Chance) -> Mesh:
    """Some corners lie on the middle of an edge, or in a triangle's."""
    points = mesh.vertices.copy()
    which = _some(len(points), chance)
    corners = int(chance.choice([2, 3]))
    faces = mesh.faces[chance.integers(len(mesh.faces), size=len(which)), :corners]
    points[which] = points[faces].mean(axis=1)
    return Mesh(points, mesh.faces)


def _joined_wrongly(mesh: Mesh, chance: Chance) -> Mesh:
    """Some triangles name another corner."""
    faces = mesh.faces.copy()
    which = _some(len(faces), chance)
    faces[which, chance.integers(3, size=len(which))] = chance.integers(
        len(mesh.vertices), size=len(which)
    )
    return Mesh(mesh.vertices, faces)


def _parted(mesh: Mesh, chance: Chance) -> Mesh:
    """Each triangle has corners of its own, moved a little."""
    points = mesh.triangles.reshape(-1, 3)
    step = float(chance.choice([0.0, 0.0, 1e-9, 1e-6])) * np.ptp(points, axis=0).max()
    moved = points + step * chance.normal(size=points.shape)
    return Mesh(moved, np.arange(len(points)).reshape(-1, 3))


def _rounded(mesh: Mesh, chance: Chance) -> Mesh:
    """Single precision, or few digits."""
    if chance.random() < 0.5:
        return Mesh(mesh.vertices.astype(np.float32).astype(np.float64), mesh.faces)
    return Mesh(mesh.vertices.round(int(chance.integers(0, 5))), mesh.faces)


def _stretched(mesh: Mesh, chance: Chance) -> Mesh:
    """One axis a millionth to a million times as long."""
    scale = np.ones(3)
    scale[int(chance.integers(3))] = 10.0 ** chance.uniform(-6.0, 6.0)
    return Mesh(mesh.vertices * scale, mesh.faces)


def _far_away(mesh: Mesh, chance: Chance) -> Mesh:
    away = 10.0 ** chance.uniform(1.0, 8.0) * chance.normal(size=3)
    return Mesh(mesh.vertices + away, mesh.faces)


def _needles(mesh: Mesh, chance: Chance) -> Mesh:
    """Thin spikes out of or into the solid, or right through it."""
    longest = float(np.ptp(mesh.vertices, axis=0).max())
    for face in np.sort(_some(len(mesh.faces), chance))[::-1][:5]:
        tip = mesh.triangles[face].mean(axis=0) + longest * chance.normal(size=3)
        share = 10.0 ** chance.uniform(-9.0, -1.0)
        mesh = shapes().with_needle(mesh, int(face), tip, share)
    return mesh


def _combed(mesh: Mesh, chance: Chance) -> Mesh:
    """Many corners pulled far out, or through the middle and out on the other side."""
    points, middle = mesh.vertices.copy(), mesh.vertices.mean(axis=0)
    which = chance.choice(len(points), int(chance.integers(1, 1 + len(points) // 4)), replace=False)
    reach = float(chance.choice([-1.5, -0.5, 0.5, 1.5, 3.0]))
    factor = 1.0 + (reach - 1.0) * chance.random(len(which))
    points[which] = middle + factor[:, None] * (points[which] - middle)
    return Mesh(points, mesh.faces)


def _folded(mesh: Mesh, chance: Chance) -> Mesh:
    """Some corners pushed through the surface beside them."""
    points = mesh.vertices.copy()
    for face in _some(len(mesh.faces), chance):
        a, b, c = points[mesh.faces[face]]
        points[mesh.faces[face][0]] = a + float(chance.uniform(1.0, 1.6)) * ((b + c) / 2.0 - a)
    return Mesh(points, mesh.faces)


def _sheet(mesh: Mesh, chance: Chance) -> Mesh:
    """A loose patch beside, in or through the solid."""
    middle, longest = mesh.vertices.mean(axis=0), float(np.ptp(mesh.vertices, axis=0).max())
    corners = middle + longest * chance.uniform(-1.0, 1.0, (4, 3))
    return together(mesh, Mesh(corners, np.array([[0, 1, 2], [0, 2, 3]])))


def _copied(mesh: Mesh, chance: Chance) -> Mesh:
    """The whole once more: on itself, just beside, within, or anywhere."""
    middle: Floats = mesh.vertices.mean(axis=0)
    scale = float(chance.choice([1.0, 1.0 - 1e-9, 0.999, 0.98, 0.5, 0.1]))
    step = float(chance.choice([0.0, _step(mesh, chance)])) * chance.normal(size=3)
    other = middle + scale * (mesh.vertices - middle) + step
    return together(mesh, Mesh(other, mesh.faces[:, :: int(chance.choice([1, -1]))]))


def _crumbs(mesh: Mesh, chance: Chance) -> Mesh:
    speck = sound_meshes()["box"]
    low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
    for _ in range(int(chance.choice([1, 3, 20]))):
        size = float(chance.choice([1e-9, 1e-6, 1e-3, 0.05]))
        place = chance.uniform(low - (high - low) / 2.0, high + (high - low) / 2.0)
        mesh = together(mesh, Mesh(place + size * speck.vertices, speck.faces))
    return mesh


DAMAGES: tuple[Callable[[Mesh, Chance], Mesh], ...] = (
    _lost, _doubled, _turned, _inside_out, _shifted, _noisy, _laid_on_corners, _laid_near_corners,
    _laid_on_edges, _joined_wrongly, _parted, _rounded, _stretched, _far_away, _needles, _combed,
    _folded, _sheet, _copied, _crumbs,
)  # fmt: skip
