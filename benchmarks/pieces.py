"""Pieces of rough that the benchmarks plan in."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.tables import ROOT
from optimizer import load_rough
from optimizer.mesh import Floats, Mesh
from optimizer.rough.formats.read import read_scan
from optimizer.rough.model import Rough
from optimizer.rough.scale.units import longest_side
from optimizer.solid import as_mesh, as_solid
from scans import make_demo

DEMO = ROOT / "scans" / "two-colour-quartz.toml"
ORDER = ROOT / "scans" / "order.toml"
SCANS = ROOT.parent / "shared" / "meshes"  # scans nobody here made; absent elsewhere
LONGEST_MM = 20.0  # real scans are planned as if they were this long
DENSE = 200_000  # triangles of a dense scan, about
NOISE_MM = 0.02  # standard deviation of a dense scan, along the surface's normal
REAL = {
    "boulder": "apollo/apollo01.ply",
    "lump": "apollo/apollo13.ply",
    "splinter": "apollo/apollo07.ply",
    "quarry": "03_quarry_E22.ply",
    "two-lobed": "04_kleopatra.obj",
}


def scan_paths() -> list[Path]:
    """Every real scan that is there, in a fixed order."""
    kinds = {".stl", ".ply", ".obj"}
    return sorted(path for path in SCANS.rglob("*") if path.suffix in kinds)


def real_scan(path: Path) -> Rough:
    """A real scan, scaled to gem size. Raises InputError where it is no closed solid."""
    scale = LONGEST_MM / longest_side(read_scan(path).used_points)
    return load_rough(path, rough_table={"material": "quartz", "mm_per_unit": scale})


def polytope(corners: int = 24, seed: int = 7) -> Mesh:
    """A convex piece with 2·corners − 4 uneven flat faces, about 20 x 15 x 12 mm."""
    points = np.random.default_rng(seed).normal(size=(corners, 3))
    points *= np.array([10.0, 7.5, 6.0]) / np.linalg.norm(points, axis=1, keepdims=True)
    return hull(points)


def hull(points: Floats) -> Mesh:
    """The convex hull of points (n, 3), wound outwards."""
    from scipy.spatial import ConvexHull

    convex = ConvexHull(points)
    corners = points[convex.simplices]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    inward = np.einsum("ij,ij->i", across, convex.equations[:, :3]) < 0.0
    faces = np.where(inward[:, None], convex.simplices[:, ::-1], convex.simplices)
    used, numbers = np.unique(faces, return_inverse=True)
    return Mesh(points[used], np.ascontiguousarray(numbers.reshape(-1, 3), np.int64))


def shapes() -> Any:
    """The tests' generators of synthetic rough (tests/shapes.py)."""
    sys.path.append(str(ROOT / "tests"))
    import shapes

    return shapes


def dense_pieces() -> dict[str, Callable[[], Mesh]]:
    """Ten pieces by name, each made anew at the density of a scan; real ones where they are."""
    made = shapes()
    plain: dict[str, Callable[[], Mesh]] = {
        "pebble": lambda: made.pebble(3, subdivisions=5),
        "dented": lambda: made.dented(2, subdivisions=5),
        "bent": made.bent,
        "stepped": lambda: _less(made.box((20.0, 14.0, 10.0)), made.box(), (9.0, 6.0, 4.0)),
        "chipped slab": lambda: _less(made.slab(5), made.icosphere(6.0), (10.0, 6.0, 4.0)),
    }
    for name, path in REAL.items():
        if (SCANS / path).exists():
            plain[name] = lambda path=path: real_scan(SCANS / path).mesh
    return {name: lambda make=make: dense(make()) for name, make in plain.items()}


def _less(mesh: Mesh, other: Mesh, at: tuple[float, float, float]) -> Mesh:
    """The mesh without what lies in another one moved by ``at``."""
    return as_mesh(as_solid(mesh) - as_solid(other).translate(at))


def dense(mesh: Mesh, triangles: int = DENSE, noise_mm: float = NOISE_MM, seed: int = 0) -> Mesh:
    """The solid with its triangles divided to about ``triangles`` in all, and with scan noise."""
    solid = as_solid(mesh)
    edge = np.sqrt(solid.surface_area() / triangles * 4.0 / 3.0**0.5)
    for _ in range(6):  # as edges are divided by whole numbers, the count comes near in steps
        fine = as_mesh(solid.refine_to_length(edge))
        edge *= np.sqrt(len(fine.faces) / triangles)
    corners = fine.triangles
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals = np.zeros_like(fine.vertices)
    for k in range(3):
        np.add.at(normals, fine.faces[:, k], across)
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    height = noise_mm * np.random.default_rng(seed).standard_normal(len(normals))
    return Mesh(fine.vertices + height[:, None] * normals, fine.faces)


def write_demo(folder: Path, divisions: int) -> int:
    """The demo piece scanned at another density, with its rough file; how many triangles."""
    vertices, faces = make_demo.make_crystal(divisions)
    (folder / DEMO.with_suffix(".ply").name).write_bytes(make_demo.ply(vertices, faces))
    carat = make_demo.volume_mm3(vertices, faces) * make_demo.SG / 200.0
    (folder / DEMO.name).write_text(make_demo.rough_file(carat), encoding="utf-8")
    return len(faces)


if __name__ == "__main__":  # python -m benchmarks.pieces FOLDER DIVISIONS
    print(write_demo(Path(sys.argv[1]), int(sys.argv[2])))
