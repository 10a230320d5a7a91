"""Meshes with faults of geometry: torn, folded, doubled, flat, inside out, too large or small."""

from pathlib import Path
from random import Random
from typing import Any

import numpy as np

from benchmarks import damaged_meshes
from benchmarks.fuzzing.case import Case, Limits
from benchmarks.pieces import shapes
from optimizer.mesh import Floats, Mesh

QUICKLY = Limits(cpu_s=10.0)  # of a small mesh
PLANNED = Limits(cpu_s=60.0)


def case(desk: Path, chance: Random) -> Case:
    """``check`` of a damaged mesh, or a plan in it."""
    from optimizer.rough import write_ply

    write_ply(desk / "piece.ply", drawn(chance))
    kind, unit = chance.random(), ("--unit", "mm")
    if kind < 0.6:
        return Case(("check", "piece.ply", *unit), limits=QUICKLY)
    if kind < 0.85:
        return Case(("check", "piece.ply", *unit, "--out", "marks"), out="marks", limits=QUICKLY)
    call = ("plan", "piece.ply", *unit, "--out", "plan", "--effort", "quick")
    return Case(call, out="plan", limits=PLANNED)


def drawn(chance: Random) -> Mesh:
    """A small mesh with one to three faults, half of them as in ``benchmarks.damaged_meshes``."""
    if chance.random() < 0.5:
        with np.errstate(all="ignore"):
            return damaged_meshes.case(chance.randrange(2**32), 0)[1]
    mesh = _sound(chance)
    rng = np.random.default_rng(chance.randrange(2**32))
    with np.errstate(all="ignore"):
        for _ in range(chance.choice((1, 1, 2, 3))):
            mesh = chance.choice(_FAULTS)(mesh, rng) if len(mesh.faces) else mesh
    return mesh


def _sound(chance: Random) -> Mesh:
    made: Any = shapes()
    seed = chance.randrange(1000)
    return chance.choice((
        lambda: made.box((10.0, 8.0, 6.0)), lambda: made.icosphere(8.0, 2),
        lambda: made.pebble(seed, 8.0, 2), lambda: made.dented(seed, 8.0, subdivisions=3),
        lambda: made.notched(), lambda: made.slab(seed, 20.0, 6.0, 2),
        lambda: made.random_polytope(seed), lambda: made.crystal(seed, subdivisions=2),
        lambda: made.bent(rings=8), lambda: _torus(int(seed % 5) + 3, int(seed % 4) + 3),
    ))()  # fmt: skip


def _torus(around: int, across: int, radius: float = 8.0, thick: float = 3.0) -> Mesh:
    """A coarse ring of flat quarters."""
    u, v = np.meshgrid(np.arange(around), np.arange(across), indexing="ij")
    a, b = 2.0 * np.pi * u / around, 2.0 * np.pi * v / across
    reach = radius + thick * np.cos(b)
    points = np.stack([reach * np.cos(a), reach * np.sin(a), thick * np.sin(b)], axis=-1)
    here, right = u * across + v, (u + 1) % around * across + v
    up, both = u * across + (v + 1) % across, (u + 1) % around * across + (v + 1) % across
    faces = np.concatenate([
        np.stack([here, right, both], axis=-1).reshape(-1, 3),
        np.stack([here, both, up], axis=-1).reshape(-1, 3),
    ])  # fmt: skip
    return Mesh(points.reshape(-1, 3), faces.astype(np.int64))


def _moved(mesh: Mesh, rng: np.random.Generator) -> Mesh:
    """Some corners elsewhere, by a hair or by a hand's breadth."""
    vertices = mesh.vertices.copy()
    count = int(rng.integers(1, max(2, len(vertices) // 4)))
    which = rng.choice(len(vertices), count, replace=False)
    reach = 10.0 ** rng.uniform(-9.0, 2.0)
    vertices[which] += reach * rng.standard_normal((count, 3))
    return Mesh(vertices, mesh.faces)


def _one_on_another(mesh: Mesh, rng: np.random.Generator) -> Mesh:
    """A corner where another is, or on the middle of a triangle."""
    vertices = mesh.vertices.copy()
    one, other = rng.choice(len(vertices), 2, replace=False)
    face = mesh.faces[rng.integers(len(mesh.faces))]
    middle = vertices[face].mean(axis=0)
    vertices[one] = vertices[other] if rng.random() < 0.5 else middle
    return Mesh(vertices, mesh.faces)


def _torn(mesh: Mesh, rng: np.random.Generator) -> Mesh:
    """Some triangles gone."""
    return Mesh(
        mesh.vertices, mesh.faces[rng.random(len(mesh.faces)) > rng.choice([0.02, 0.2, 0.9])]
    )


def _doubled(mesh: Mesh, rng: np.random.Generator) -> Mesh:
    """Some triangles twice, some of them turned over."""
    twice = mesh.faces[rng.random(len(mesh.faces)) < rng.choice([0.05, 1.0])]
    turned = rng.random(len(twice)) < 0.5
    twice = np.where(turned[:, None], twice[:, ::-1], twice)
    return Mesh(mesh.vertices, np.concatenate([mesh.faces, twice]))


def _turned(mesh: Mesh, rng: np.random.Generator) -> Mesh:
    """Some triangles wound the other way, or all."""
    turned = rng.random(len(mesh.faces)) < rng.choice([0.02, 0.5, 1.0])
    return Mesh(mesh.vertices, np.where(turned[:, None], mesh.faces[:, ::-1], mesh.faces))


def _beside(mesh: Mesh, rng: np.random.Generator) -> Mesh:
    """The same again: on itself, through itself, within itself or beside itself."""
    size = float(np.ptp(mesh.vertices, axis=0).max()) if len(mesh.vertices) else 1.0
    rotation, _ = shapes().random_motion(rng)
    rotation = rotation if rng.random() < 0.5 else np.eye(3)
    shift = size * 10.0 ** rng.uniform(-8.0, 0.5) * rng.standard_normal(3)
    scale = rng.choice([1.0, 1.0, 0.5, 0.999999, 0.01, -1.0])
    other = scale * mesh.vertices @ rotation.T + shift
    return _joined(mesh, Mesh(other, mesh.faces))


def _joined(one: Mesh, other: Mesh) -> Mesh:
    vertices = np.concatenate([one.vertices, other.vertices])
    return Mesh(vertices, np.concatenate([one.faces, other.faces + len(one.vertices)]))


def _needle(mesh: Mesh, rng: np.random.Generator) -> Mesh:
    """A spike or a pit without width."""
    if len(mesh.faces) < 4:
        return mesh
    tip = rng.uniform(-1.5, 1.5, 3) * np.ptp(mesh.vertices, axis=0)
    share = 10.0 ** rng.uniform(-9.0, -0.5)
    face = int(rng.integers(len(mesh.faces)))
    spiked: Mesh = shapes().with_needle(mesh, face, tip, share)
    return spiked


def _flat(mesh: Mesh, rng: np.random.Generator) -> Mesh:
    """Squeezed along one direction, to a sheet where it must be."""
    squeeze: Floats = np.ones(3)
    squeeze[rng.integers(3)] = rng.choice([0.0, 1e-12, 1e-6, 1e-3, 0.05])
    return Mesh(mesh.vertices * squeeze, mesh.faces)


def _sized(mesh: Mesh, rng: np.random.Generator) -> Mesh:
    """Of another size, or far from the origin."""
    if rng.random() < 0.5:
        return Mesh(mesh.vertices * 10.0 ** rng.uniform(-12.0, 12.0), mesh.faces)
    return Mesh(mesh.vertices + 10.0 ** rng.uniform(0.0, 15.0), mesh.faces)


def _snapped(mesh: Mesh, rng: np.random.Generator) -> Mesh:
    """All numbers rounded to a grid, as text with few digits has them."""
    step = 10.0 ** rng.uniform(-6.0, 0.5)
    return Mesh(np.round(mesh.vertices / step) * step, mesh.faces)


def _rewired(mesh: Mesh, rng: np.random.Generator) -> Mesh:
    """Some triangles lead to other corners."""
    faces = mesh.faces.copy()
    for _ in range(int(rng.integers(1, 4))):
        faces[rng.integers(len(faces)), rng.integers(3)] = rng.integers(len(mesh.vertices))
    return Mesh(mesh.vertices, faces)


def _not_finite(mesh: Mesh, rng: np.random.Generator) -> Mesh:
    vertices = mesh.vertices.copy()
    place = tuple(rng.integers(vertices.shape))
    vertices[place] = rng.choice([np.nan, np.inf, -np.inf, 1e300, -1e38, 5e-324])
    return Mesh(vertices, mesh.faces)


_FAULTS = (
    _moved, _moved, _one_on_another, _one_on_another, _torn, _doubled, _turned, _beside, _beside,
    _needle, _flat, _sized, _snapped, _rewired, _rewired, _not_finite,
)  # fmt: skip
