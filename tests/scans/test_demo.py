"""The demo piece: what its description promises, and that the committed scan is what it makes."""

import importlib.util
import tomllib
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from numpy.typing import NDArray

SCANS = Path(__file__).parents[2] / "scans"
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_demo", SCANS / "make_demo.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


demo = script()


@pytest.fixture(scope="module")
def committed() -> tuple[Floats, Ints]:
    """Vertices and triangles of the committed file, read by its plain layout."""
    data = (SCANS / "two-colour-quartz.ply").read_bytes()
    header, body = data.split(b"end_header\n", 1)
    n, m = (int(line.split()[-1]) for line in header.splitlines() if line.startswith(b"element"))
    vertices = np.frombuffer(body, "<f4", 3 * n).reshape(n, 3).astype(float)
    rows = np.frombuffer(body[12 * n :], np.dtype([("count", "u1"), ("corners", "<i4", 3)]))
    assert len(rows) == m
    assert (rows["count"] == 3).all()
    return vertices, rows["corners"].astype(np.int64)


@pytest.fixture(scope="module")
def in_crystal(committed: tuple[Floats, Ints]) -> Floats:
    """Vertices in the crystal's own frame, z along the prism."""
    rotation, shift = demo.crystal2scan()
    return np.asarray((committed[0] - shift) @ rotation)


@pytest.fixture(scope="module")
def about() -> dict[str, object]:
    return tomllib.loads((SCANS / "two-colour-quartz.toml").read_text(encoding="utf-8"))


def test_the_committed_scan_is_what_the_script_makes(
    committed: tuple[Floats, Ints], tmp_path: Path
) -> None:
    vertices, faces = demo.make_crystal()
    assert np.array_equal(faces, committed[1])
    assert np.abs(vertices - committed[0]).max() < 1e-5  # single precision, any maths library
    demo.main(tmp_path)
    written = (tmp_path / "two-colour-quartz.toml").read_text(encoding="utf-8")
    assert written == (SCANS / "two-colour-quartz.toml").read_text(encoding="utf-8")


def test_the_scan_is_dense_and_the_file_small(committed: tuple[Floats, Ints]) -> None:
    assert 100_000 <= len(committed[1]) <= 120_000
    assert (SCANS / "two-colour-quartz.ply").stat().st_size < 4_000_000


def test_each_edge_is_walked_once_each_way_and_the_surface_is_a_sphere(
    committed: tuple[Floats, Ints],
) -> None:
    vertices, faces = committed
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    code = edges[:, 0] * len(vertices) + edges[:, 1]
    assert len(np.unique(code)) == len(code)
    assert set(code) == set(edges[:, 1] * len(vertices) + edges[:, 0])
    assert len(vertices) - len(edges) // 2 + len(faces) == 2


def test_the_surface_cannot_cross_itself(
    committed: tuple[Floats, Ints], in_crystal: Floats
) -> None:
    """Each triangle is seen from its front from the middle point, and together they cover the full
    sphere of directions just once: the solid angles sum to 4π (formula: van Oosterom and Strackee,
    IEEE Transactions on Biomedical Engineering 30, 1983)."""
    a, b, c = (in_crystal[committed[1][:, k]] for k in range(3))
    triple = np.einsum("ij,ij->i", a, np.cross(b, c))
    assert triple.min() > 0.0
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    below = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
    assert 2.0 * np.arctan2(triple, below).sum() == pytest.approx(4.0 * np.pi, abs=1e-9)


def test_the_weight_agrees_with_the_volume(
    committed: tuple[Floats, Ints], about: dict[str, float]
) -> None:
    carat = demo.volume_mm3(*committed) * 2.65 / 200.0
    assert carat == pytest.approx(60.0, abs=2.0)
    assert about["weighed_ct"] == pytest.approx(carat, rel=0.01)
    assert about["weighed_ct"] != pytest.approx(carat, rel=1e-3)  # coated, as a real scan is


def test_another_reader_sees_the_same_solid(committed: tuple[Floats, Ints]) -> None:
    """Outside check: trimesh reads the file and agrees that it is closed, and on its volume."""
    trimesh = pytest.importorskip("trimesh")
    seen = trimesh.load(SCANS / "two-colour-quartz.ply", process=False)
    assert seen.is_watertight
    assert seen.is_winding_consistent
    assert seen.volume == pytest.approx(demo.volume_mm3(*committed), rel=1e-6)


def test_the_colours_split_from_end_to_end(in_crystal: Floats, about: dict[str, object]) -> None:
    rotation, shift = demo.crystal2scan()
    zone = about["zones"][0]  # type: ignore[index]
    normal = np.array(zone["normal"]) @ rotation
    point = (np.array(zone["point_mm"]) - shift) @ rotation
    off_axis_deg = np.degrees(np.arcsin(abs(normal[2])))
    assert 1.0 < off_axis_deg < 5.0
    height = in_crystal[:, 2]
    for end in (in_crystal[height < height.min() + 1.5], in_crystal[height > height.max() - 1.5]):
        side = (end - point) @ normal
        assert side.min() < -1.0 < 1.0 < side.max()
    assert np.linalg.norm(normal) == pytest.approx(1.0, abs=1e-4)


def test_the_optic_axis_runs_up_the_prism(about: dict[str, Floats]) -> None:
    rotation, _ = demo.crystal2scan()
    assert rotation @ rotation.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(rotation) == pytest.approx(1.0, abs=1e-12)
    assert np.array(about["optic_axis"]) @ rotation == pytest.approx([0, 0, 1], abs=1e-4)


def test_the_sawn_end_is_flat_and_its_normal_points_out(
    committed: tuple[Floats, Ints], about: dict[str, object]
) -> None:
    face = about["reference_faces"][0]  # type: ignore[index]
    height = (committed[0] - np.array(face["point_mm"])) @ np.array(face["normal"])
    on_it = np.abs(height) < 0.1
    assert on_it.sum() > 5_000
    assert height.max() < 0.1
    assert np.abs(height[on_it]).std() < 0.02


def test_the_broken_end_is_not_flat(in_crystal: Floats) -> None:
    top = in_crystal[(in_crystal[:, 2] > 8.5) & (np.hypot(*in_crystal[:, :2].T) < 5.0)]
    design = np.column_stack([top[:, :2], np.ones(len(top))])
    rest = top[:, 2] - design @ np.linalg.lstsq(design, top[:, 2], rcond=None)[0]
    assert rest.std() > 0.1


def test_the_scan_is_noisy_as_a_scanner_is(in_crystal: Floats) -> None:
    """Across a sound patch of a prism face, about the plane of best fit."""
    around, distance, lean = demo.PRISM[0]
    normal = demo.prism_normal(around, lean)
    along = np.cross([0.0, 0.0, 1.0], normal)
    sound = (np.abs(in_crystal[:, 2] + 3.0) < 3.0) & (np.abs(in_crystal @ along) < 2.0)
    height = (in_crystal @ normal - distance)[sound & (in_crystal @ normal > 0)]
    assert len(height) > 500
    assert 0.010 < height.std() < 0.020


@pytest.mark.parametrize("chip", demo.CHIPS)
def test_each_chip_is_a_bite_out_of_the_solid(
    chip: tuple[tuple[float, float, float], float, float], in_crystal: Floats
) -> None:
    direction, depth, _ = chip
    ray = np.array(direction) / np.linalg.norm(direction)
    nearest = np.argmax(in_crystal @ ray / np.linalg.norm(in_crystal, axis=1))
    missing = demo.reach_unchipped(ray[None], 0.0)[0] - np.linalg.norm(in_crystal[nearest])
    assert missing == pytest.approx(depth, abs=0.3)
    assert missing > 0.3
