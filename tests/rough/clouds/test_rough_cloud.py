"""Clouds of points: closed to the known solid within what is stated, or refused for what is unseen.

The clouds are drawn evenly at random from surfaces with closed forms, with scan noise.
"""

import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from shapes import box, icosphere

from optimizer.errors import InputError
from optimizer.mesh import Floats, Mesh, volume
from optimizer.rough import load_rough
from optimizer.rough.clouds import surface as cloud
from optimizer.rough.clouds.surface import closed
from optimizer.rough.formats.scan import Scan
from optimizer.rough.open3d_door import open3d

sys.path.insert(0, str(Path(__file__).parents[3] / "scans"))
import make_demo

COUNT, NOISE_MM = 3000, 0.02
NO_FACES = np.empty((0, 3), np.int64)


def drawn(mesh: Mesh, count: int = COUNT, noise_mm: float = NOISE_MM) -> tuple[Floats, Floats]:
    """Points (n, 3) drawn evenly from the surface, and the normals (n, 3) there."""
    rng = np.random.default_rng(1)
    a, b, c = mesh.triangles.transpose(1, 0, 2)
    square = np.cross(b - a, c - a)
    area = np.linalg.norm(square, axis=1)
    face = rng.choice(len(a), count, p=area / area.sum())
    u, v = rng.random((2, count, 1))
    u, v = np.where(u + v > 1.0, 1.0 - u, u), np.where(u + v > 1.0, 1.0 - v, v)
    points = a[face] + u * (b - a)[face] + v * (c - a)[face]
    return points + rng.normal(0.0, noise_mm, points.shape), (square / area[:, None])[face]


def as_scan(points: Floats, normals: Floats | None = None) -> Scan:
    return Scan(points, NO_FACES, normals=normals)


def farthest(mesh: Mesh, points: Floats) -> float:
    """Of ``points`` from the surface of ``mesh``, by open3d's ray tracer."""
    scene = open3d().t.geometry.RaycastingScene()
    triangles = open3d().core.Tensor(mesh.faces.astype(np.uint32))
    scene.add_triangles(open3d().core.Tensor(mesh.vertices.astype(np.float32)), triangles)
    query = open3d().core.Tensor(points.astype(np.float32))
    return float(scene.compute_distance(query).numpy().max())


SPHERE, BOX, PLATE = icosphere(10.0, 4), box((20.0, 14.0, 10.0)), box((20.0, 14.0, 3.0))
DEMO = Mesh(*make_demo.make_crystal(20))


def outside(mesh: Mesh, points: Floats) -> float:
    """How far the farthest of ``points`` lies outside ``mesh``, by open3d's ray tracer."""
    scene = open3d().t.geometry.RaycastingScene()
    triangles = open3d().core.Tensor(mesh.faces.astype(np.uint32))
    scene.add_triangles(open3d().core.Tensor(mesh.vertices.astype(np.float32)), triangles)
    query = open3d().core.Tensor(points.astype(np.float32))
    return float(scene.compute_signed_distance(query).numpy().max())


@pytest.mark.parametrize(
    ("truth", "count", "percent"),
    [
        (SPHERE, 3000, 0.2),
        (BOX, 3000, 0.2),
        (DEMO, 3000, 0.2),
        (DEMO, 10_000, 0.1),
        (DEMO, 1000, 1.0),
        (PLATE, 1000, 3.0),
    ],
    ids=["sphere", "box", "demo", "dense demo", "coarse demo", "coarse plate"],
)
def test_solids_come_back_and_the_error_is_honest(truth: Mesh, count: int, percent: float) -> None:
    """The error is no less than the built surface runs outside the true one, and not much more
    than the one is off the other: true points and corners from the built surface, and back."""
    solid, error_mm = closed(as_scan(drawn(truth, count)[0]), 1.0, "piece.xyz")
    assert volume(solid.mesh) == pytest.approx(volume(truth), rel=percent / 100.0)
    dense = np.vstack([truth.vertices, drawn(truth, 20_000, 0.0)[0]])
    off = max(farthest(truth, solid.mesh.vertices), farthest(solid.mesh, dense))
    assert outside(truth, solid.mesh.vertices) <= error_mm
    assert error_mm <= (3.0 if truth is SPHERE else 1.0 if truth is not PLATE else 1.5) * off
    assert f"{error_mm:.3f} mm" in solid.repairs[0].sentence
    assert not solid.watertight_as_read


def test_the_same_cloud_gives_the_same_surface() -> None:
    points = drawn(SPHERE, 1500)[0]
    first, second = (closed(as_scan(points), 1.0, "a.xyz")[0].mesh for _ in range(2))
    assert first.vertices.tobytes() == second.vertices.tobytes()
    np.testing.assert_array_equal(first.faces, second.faces)


@pytest.mark.parametrize("sign", [1.0, -1.0], ids=["outwards", "inwards"])
def test_normals_of_the_file_are_used_whichever_way_they_point(sign: float) -> None:
    points, normals = drawn(BOX, 2000)
    solid, _ = closed(as_scan(points, 5.0 * sign * normals), 1.0, "a.ply")
    assert volume(solid.mesh) == pytest.approx(2800.0, rel=0.003)


OR_ELSE = ", or on the opposite one where the points show a hollow"


@pytest.mark.parametrize(
    ("truth", "seen", "facing", "or_else"),
    [
        (SPHERE, lambda p: p[:, 2] > 0.0, "-1", OR_ELSE),  # one side of a ball
        (SPHERE, lambda p: p[:, 2] > -9.0, "-1", ""),  # what stood on the turntable
        (BOX, lambda p: p[:, 2] > -4.9, "-1", ""),
        (BOX, lambda p: p[:, 2] < 4.9, "1", ""),
    ],
    ids=["half a ball", "ball without base", "box without base", "box without top"],
)
def test_what_nobody_saw_is_refused(
    truth: Mesh, seen: Callable[[Floats], Floats], facing: str, or_else: str
) -> None:
    points = drawn(truth)[0]
    with pytest.raises(InputError) as error:
        closed(as_scan(points[seen(points)]), 1.0, "piece.xyz")
    message = str(error.value)
    assert "part of the piece was never seen, above all on the side that faces (" in message
    assert f", {facing}){or_else}: the surface" in message
    assert "scan the piece twice, turned over" in message


@pytest.mark.parametrize("own", [True, False], ids=["with normals", "without"])
def test_of_a_hollow_the_seen_side_is_not_called_unseen(own: bool) -> None:
    """Half a ball seen from within. Points alone look the same from both sides; normals tell."""
    points, normals = drawn(SPHERE, 3000, 0.0)
    lower = points[:, 2] < 0.0
    with pytest.raises(InputError) as error:
        closed(as_scan(points[lower], -normals[lower] if own else None), 1.0, "dish.ply")
    assert (", -1): the surface" if own else OR_ELSE) in str(error.value)


def test_a_gap_too_small_to_refuse_counts_as_error() -> None:
    points = drawn(SPHERE)[0]
    solid, error_mm = closed(as_scan(points[points[:, 2] > -9.8]), 1.0, "piece.xyz")
    assert farthest(SPHERE, solid.mesh.vertices) <= error_mm


def test_what_the_library_cannot_orient_is_told_in_our_words() -> None:
    """Half a ball on a regular grid of angles."""
    t, p = np.meshgrid(np.linspace(0.02, np.pi / 2, 60), 2.0 * np.pi * np.arange(120) / 120)
    points = np.stack([np.sin(t) * np.cos(p), np.sin(t) * np.sin(p), np.cos(t)], axis=-1)
    with pytest.raises(InputError) as error:
        closed(as_scan(10.0 * points.reshape(-1, 3)), 1.0, "half.xyz")
    assert "half.xyz: no surface can be built through the points: many" in str(error.value)
    assert str(error.value).endswith("or save the points with their normals, or a mesh")


def test_stray_points_are_refused() -> None:
    points = drawn(SPHERE)[0]
    with pytest.raises(InputError, match=r"clean the cloud|never seen"):
        closed(as_scan(np.vstack([points, [[0.0, 0.0, 3.0]]])), 1.0, "piece.xyz")


@pytest.mark.parametrize(
    ("points", "said"),
    [
        (drawn(SPHERE, 999)[0], "a cloud of 999 points; .* scan more densely"),
        (drawn(SPHERE)[0] * [1.0, 1.0, 0.0], "lie in one plane"),
        (np.tile(drawn(SPHERE, 900)[0], (3, 1)), "a cloud of 900 points"),
    ],
)
def test_shapeless_clouds_are_refused(points: Floats, said: str) -> None:
    with pytest.raises(InputError, match=said):
        closed(as_scan(points), 1.0, "a.xyz")


def test_a_normal_of_no_length_is_refused() -> None:
    points, normals = drawn(SPHERE)
    normals[7] = 0.0
    with pytest.raises(InputError, match="a point's normal has no direction"):
        closed(as_scan(points, normals), 1.0, "a.ply")


def test_without_open3d_it_says_what_is_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    def absent() -> None:
        raise InputError("open3d cannot be loaded: no module")

    monkeypatch.setattr(cloud, "open3d", absent)
    with pytest.raises(InputError, match=r"needs open3d to become a surface.*save the scan as a m"):
        closed(as_scan(drawn(SPHERE)[0]), 1.0, "a.xyz")


def test_a_coloured_cloud_from_file_to_rough(tmp_path: Path) -> None:
    """In centimetres, far from the origin; the error built in is added to the stated one."""
    points = (drawn(SPHERE, 2000)[0] + [200.0, 0.0, 50.0]) / 10.0
    colours = np.tile([255, 0, 51], (len(points), 1))
    rows = [
        f"{x!r}\t{y!r}\t{z!r}\t{r}\t{g}\t{b}"
        for (x, y, z), (r, g, b) in zip(points.tolist(), colours.tolist(), strict=True)
    ]
    (tmp_path / "ball.xyz").write_text("# a ball\n" + "\n".join(rows) + "\n")
    table = {"material": "quartz", "unit": "cm", "scan_error_mm": 0.03}
    rough = load_rough(tmp_path / "ball.xyz", rough_table=table)
    assert rough.volume_mm3 == pytest.approx(4.0 / 3.0 * np.pi * 1000.0, rel=0.005)
    np.testing.assert_allclose(rough.mesh.vertices.mean(axis=0), [200.0, 0.0, 50.0], atol=0.1)
    assert rough.scan_error_mm > 0.06
    assert any("is added to the scan error" in repair.sentence for repair in rough.repairs)
    assert rough.paint is not None
    np.testing.assert_allclose(rough.paint.points_mm, points * 10.0)
    np.testing.assert_allclose(rough.paint.srgb, np.tile([1.0, 0.0, 0.2], (len(points), 1)))
