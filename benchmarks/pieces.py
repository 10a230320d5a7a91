"""Pieces of rough that the benchmarks plan in."""

import sys
from pathlib import Path

import numpy as np

from benchmarks.tables import ROOT
from optimizer import load_rough
from optimizer.mesh import Mesh
from optimizer.rough.model import Rough
from optimizer.rough.scan_file import read_scan
from optimizer.rough.units import longest_side
from scans import make_demo

DEMO = ROOT / "scans" / "two-colour-quartz.toml"
ORDER = ROOT / "scans" / "order.toml"
SCANS = ROOT.parent / "shared" / "meshes"  # scans nobody here made; absent elsewhere
LONGEST_MM = 20.0  # real scans are planned as if they were this long


def scan_paths() -> list[Path]:
    """Every real scan that is there, in a fixed order."""
    kinds = {".stl", ".ply", ".obj"}
    return sorted(path for path in SCANS.rglob("*") if path.suffix in kinds)


def real_scan(path: Path) -> Rough:
    """A real scan, scaled to gem size. Raises InputError where it is no closed solid."""
    scale = LONGEST_MM / longest_side(read_scan(path).used_points)
    return load_rough(path, rough_table={"material": "quartz", "mm_per_unit": scale})


def polytope() -> Mesh:
    """A convex piece with large flat faces, about 20 x 15 x 12 mm: a hull of 24 points."""
    from scipy.spatial import ConvexHull

    points = np.random.default_rng(7).normal(size=(24, 3))
    points *= np.array([10.0, 7.5, 6.0]) / np.linalg.norm(points, axis=1, keepdims=True)
    hull = ConvexHull(points)
    corners = points[hull.simplices]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    inward = np.einsum("ij,ij->i", across, hull.equations[:, :3]) < 0.0
    faces = np.where(inward[:, None], hull.simplices[:, ::-1], hull.simplices)
    return Mesh(points, np.ascontiguousarray(faces, np.int64))


def write_demo(folder: Path, divisions: int) -> int:
    """The demo piece scanned at another density, with its rough file; how many triangles."""
    vertices, faces = make_demo.make_crystal(divisions)
    (folder / DEMO.with_suffix(".ply").name).write_bytes(make_demo.ply(vertices, faces))
    carat = make_demo.volume_mm3(vertices, faces) * make_demo.SG / 200.0
    (folder / DEMO.name).write_text(make_demo.rough_file(carat), encoding="utf-8")
    return len(faces)


if __name__ == "__main__":  # python -m benchmarks.pieces FOLDER DIVISIONS
    print(write_demo(Path(sys.argv[1]), int(sys.argv[2])))
