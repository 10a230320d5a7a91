"""Places, directions and planes told by named faces; the plate; flaws behind a window."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapes
import trimesh
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq, minimize

from optimizer.errors import InputError
from optimizer.mesh import Floats, Mesh, Plane
from optimizer.rough import describe, load_rough, open3d_door, write_ply
from optimizer.rough.flats.named_faces import NamedFaces, resting_plane
from optimizer.rough.flaws.window import behind_window
from optimizer.rough.rough_file.keys import FaceDirectionTable

SEEDS = st.integers(0, 10_000)


def corner(seed: int) -> tuple[dict[str, Plane], np.random.Generator]:
    rng = np.random.default_rng(seed)
    turn, shift = shapes.random_motion(rng)
    leaning = np.eye(3) + rng.uniform(-0.2, 0.2, (3, 3))
    return {
        name: Plane.through(shift, turn @ row) for name, row in zip("abc", leaning, strict=True)
    }, rng


@given(SEEDS)
def test_a_place_lies_at_its_depths_and_errs_by_no_more_than_is_told(seed: int) -> None:
    faces, rng = corner(seed)
    named_faces = NamedFaces(faces)
    depths = dict(zip("abc", rng.uniform(0.0, 20.0, 3), strict=True))
    place = named_faces.place(depths, "it")
    for name, depth in depths.items():
        assert faces[name].offset - faces[name].normal @ place == pytest.approx(depth, abs=1e-9)
    most = float(named_faces.notes[0].rsplit("up to ", 1)[1].removesuffix(" mm"))
    moved = []
    for signs in rng.choice([-0.1, 0.1], (20, 3)):
        off = {name: depths[name] + sign for name, sign in zip("abc", signs, strict=True)}
        moved.append(np.linalg.norm(NamedFaces(faces).place(off, "it") - place))
    assert max(moved) <= most + 0.005
    assert max(moved) >= 0.5 * most


@given(SEEDS)
def test_directions_and_planes_follow_the_faces(seed: int) -> None:
    faces, rng = corner(seed)
    named_faces = NamedFaces(faces)
    edge = named_faces.direction(FaceDirectionTable(along_edge=["a", "b"]))
    assert abs(edge @ faces["a"].normal) < 1e-12
    assert abs(edge @ faces["b"].normal) < 1e-12
    assert np.linalg.norm(edge) == pytest.approx(1.0)
    np.testing.assert_array_equal(
        named_faces.direction(FaceDirectionTable(square_to="c")), faces["c"].normal
    )
    depth = float(rng.uniform(1.0, 9.0))
    plane = named_faces.beneath("a", depth)
    on = faces["a"].normal * (faces["a"].offset - depth)
    assert plane.normal @ on == pytest.approx(plane.offset, abs=1e-9)
    np.testing.assert_array_equal(plane.normal, -faces["a"].normal)


@given(SEEDS)
def test_a_piece_rests_where_its_middle_of_gravity_lies_lowest(seed: int) -> None:
    """It touches the plate in three places or more, and a small turn only lifts its middle."""
    mesh = shapes.random_polytope(seed)
    middle = np.array(trimesh.Trimesh(mesh.vertices, mesh.faces).center_mass)
    flattest = min(mesh_planes(mesh), key=lambda plane: plane.offset - plane.normal @ middle)
    plate = resting_plane(mesh, flattest.normal)
    np.testing.assert_allclose([*plate.normal, plate.offset], [*flattest.normal, flattest.offset])
    heights = mesh.vertices @ plate.normal - plate.offset
    assert heights.max() == pytest.approx(0.0, abs=1e-9)
    assert np.sum(heights > -1e-9) >= 3
    lying = plate.offset - plate.normal @ middle
    for way in np.random.default_rng(seed).normal(0.0, 1e-3, (20, 3)):
        down = (plate.normal + way) / np.linalg.norm(plate.normal + way)
        assert (mesh.vertices @ down).max() - down @ middle > lying


def mesh_planes(mesh: Mesh) -> list[Plane]:
    """Those of the triangles."""
    corners = mesh.triangles
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return [Plane.through(c[0], n) for c, n in zip(corners, normals, strict=True)]


def test_a_box_put_down_slightly_askew_rests_on_its_bottom() -> None:
    plate = resting_plane(shapes.box((8.0, 6.0, 4.0)), np.array([0.1, 0.05, -1.0]))
    np.testing.assert_allclose([*plate.normal, plate.offset], [0, 0, -1, 2], atol=1e-12)
    with pytest.raises(ValueError, match="would roll by 39 degrees"):
        resting_plane(shapes.box((8.0, 6.0, 4.0)), np.array([0.0, 0.8, -1.0]))


@pytest.mark.parametrize("index", [1.434, 1.544, 1.762, 2.417])
@pytest.mark.parametrize("aslant_deg", [0.0, 5.0, 30.0, 60.0])
def test_what_is_seen_through_a_window_obeys_snell(index: float, aslant_deg: float) -> None:
    """The path of light of least time (Fermat) from the place found to an eye on the line of sight
    must cross the window where the line of sight does."""
    rng = np.random.default_rng(int(aslant_deg))
    turn, shift = shapes.random_motion(rng)
    window = Plane.through(shift, turn[:, 2])
    outer = np.radians(aslant_deg)
    look = turn @ np.array([np.sin(outer), 0.0, -np.cos(outer)])
    entry = shift + turn @ np.array([1.0, 2.0, 0.0])
    place = behind_window(window, entry, 2.0, index, look)
    eye = entry - 80.0 * look

    def time(uv: Floats) -> float:
        crossing = entry + turn[:, :2] @ uv
        return float(np.linalg.norm(eye - crossing) + index * np.linalg.norm(place - crossing))

    least = minimize(time, [0.1, 0.1], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 0.0})
    np.testing.assert_allclose(least.x, 0.0, atol=2e-5)
    deep = float(window.offset - window.normal @ place)
    inner = brentq(lambda b: np.sin(outer) - index * np.sin(b), 0.0, np.pi / 2)
    apart = 2.0 * index if aslant_deg == 0.0 else 2.0 * np.tan(outer) / np.tan(inner)
    assert deep == pytest.approx(apart, rel=1e-9)


def test_a_nearly_square_look_is_as_a_square_one_and_a_look_outwards_is_refused() -> None:
    window = Plane(np.array([0.0, 0.0, 1.0]), 3.0)
    entry = np.array([1.0, 2.0, 3.4])  # brought on to the window
    square = behind_window(window, entry, 2.0, 1.5)
    np.testing.assert_allclose(square, [1.0, 2.0, 0.0])
    near = behind_window(window, entry, 2.0, 1.5, np.array([1e-7, 0.0, -1.0]))
    np.testing.assert_allclose(near, square, atol=1e-6)
    for look in ([0.0, 0.0, 1.0], [1.0, 0.0, -0.1]):
        with pytest.raises(ValueError, match="does not go into its window"):
            behind_window(window, entry, 2.0, 1.5, np.array(look))


BOX = 'scan = "piece.ply"\nunit = "mm"\nmaterial = "quartz"\nscan_error_mm = 0.02\n'
FACES = """
[[reference_faces]]
name = "base"
point_mm = [20, -3, 4]
normal = [0, 0, -1]
[[reference_faces]]
name = "end"
point_mm = [25, -3, 7]
normal = [1, 0, 0]
[[reference_faces]]
name = "side"
point_mm = [20, 1, 7]
normal = [0, 1, 0]
"""
SPLIT = 'towards = { colour = "violet" }\naway = { colour = "yellow" }\n'


@pytest.fixture
def told(tmp_path: Path, box: Mesh) -> Any:
    """Reads a rough file of the box: x 15 to 25, y −7 to 1, z 4 to 10."""
    write_ply(tmp_path / "piece.ply", box)

    def read(text: str, top: str = "") -> Any:
        (tmp_path / "piece.toml").write_text(BOX + top + FACES + text)
        return load_rough(tmp_path / "piece.toml")

    return read


def test_a_rough_file_without_coordinates(told: Any) -> None:
    rough = told(
        "[[flaws]]\nname = 'speck'\npoint_mm = { base = 2.0, end = 3.0, side = 1.0 }\n"
        "[[flaws]]\nname = 'seen'\nwindow = 'end'\napparent_depth_mm = 1.0\n"
        "point_mm = { end = 0.0, plate = 2.5, side = 4.0 }\n"
        f"[[zones]]\nname = 'split'\nparallel_to = 'base'\ndepth_mm = 4.5\n{SPLIT}",
        "rests_on = [0, 0, -1]\noptic_axis = { along_edge = ['base', 'side'] }\n"
        "growth_axis = { square_to = 'side' }\n",
    )
    np.testing.assert_allclose(rough.flaws[0].ends, [[22.0, 0.0, 6.0]], atol=1e-12)
    low, high = rough.material.ri
    seen = [[25.0 - low, -3.0, 6.5], [25.0 - high, -3.0, 6.5]]
    np.testing.assert_allclose(rough.flaws[1].ends, seen, atol=1e-12)
    assert abs(rough.optic_axis[0]) == pytest.approx(1.0)
    np.testing.assert_allclose(rough.growth_axis, [0.0, 1.0, 0.0])
    np.testing.assert_allclose(rough.zones[0].plane.normal, [0.0, 0.0, 1.0])
    assert rough.zones[0].plane.offset == pytest.approx(8.5)
    said = [line for line in describe(rough) if line.startswith("worked out: ")]
    assert any('flaw "speck" lies at (22, 0, 6), from "base", "end" and "side"' in s for s in said)
    assert any("by up to 0.17 mm" in s for s in said)  # three square faces: 0.1·√3
    assert any("1.54 to 1.55 mm deep, by the refractive index of quartz" in s for s in said)
    assert [face.name for face in rough.reference_faces] == ["base", "end", "side"]


def test_a_flaw_behind_a_window_reaches_wherever_its_species_may_put_it(told: Any) -> None:
    window = "point_mm = [25, -3, 7]\nwindow = 'end'\napparent_depth_mm = 4.0\nradius_mm = 0.1\n"
    crack = f"[[flaws]]\nname = 'b'\n{window}normal = [0, 0, 1]\nacross_mm = 2.0\n"
    rough = told(f"[[flaws]]\nname = 'a'\n{window}{crack}")
    low, high = rough.material.ri
    speck, crack = rough.flaws
    assert sorted(speck.ends[:, 0]) == pytest.approx([25.0 - 4.0 * high, 25.0 - 4.0 * low])
    assert speck.radius_mm == 0.1
    np.testing.assert_allclose(crack.ends, [[25.0 - 2.0 * (low + high), -3.0, 7.0]])
    assert crack.radius_mm == pytest.approx(0.1 + 2.0 * (high - low))


def test_faces_found_on_the_scan_may_be_named(told: Any, tmp_path: Path) -> None:
    open3d_door.open3d()
    rough = told(f"[[zones]]\nname = 'split'\nparallel_to = 'flat 2'\ndepth_mm = 1\n{SPLIT}")
    assert [face.name for face in rough.reference_faces] == ["base", "end", "side", "flat 2"]
    flat = rough.reference_faces[-1]
    assert rough.zones[0].plane.offset == pytest.approx(1.0 - flat.plane.offset, abs=1e-9)


def test_a_flat_that_is_used_leaves_the_others_to_measure_from(tmp_path: Path, box: Mesh) -> None:
    open3d_door.open3d()
    write_ply(tmp_path / "piece.ply", box)
    text = f"{BOX}[[zones]]\nname = 'split'\nparallel_to = 'flat 2'\ndepth_mm = 1\n{SPLIT}"
    (tmp_path / "piece.toml").write_text(text)
    faces = load_rough(tmp_path / "piece.toml").reference_faces
    assert [face.name for face in faces] == [f"flat {k}" for k in range(1, 7)]


@pytest.mark.parametrize(
    ("text", "top", "said"),
    [
        ("[[flaws]]\nname='a'\npoint_mm={base=1,end=2}", "", 'key "point_mm" must be three'),
        ("[[flaws]]\nname='a'\npoint_mm={base=1,end=2,sied=1}", "", 'names the face "sied"'),
        ("[[flaws]]\nname='a'\npoint_mm={base=1,end='x',side=1}", "", 'key "point_mm.end"'),
        ("[[flaws]]\nname='a'\npoint_mm={base=1,end=2,plate=1}", "rests_on=[0,0,-1]\n", "parallel"),
        ("[[flaws]]\nname='a'\npoint_mm=[1,2,3]\nwindow='end'", "", "window and apparent_depth_mm"),
        (
            "[[flaws]]\nname='a'\npoint_mm=[20,2,3]\nwindow='end'\napparent_depth_mm=1",
            "",
            'has point_mm 5.00 mm off its window "end"',
        ),
        (
            "[[flaws]]\nname='a'\npoint_mm=[25,-3,7]\nwindow='end'\napparent_depth_mm=9",
            "",
            "comes out beyond the piece",
        ),
        ("[[flaws]]\nname='a'\npoint_mm={base=1,end=2,ends=1}", "", 'did you mean "end"'),
        ("", "rests_on=[0,0.8,-1]\n", 'key "rests_on" is no direction in which the piece rests'),
        ("", "optic_axis={along_edge=['base']}\n", "optic_axis.along_edge"),
        ("", "optic_axis={along_edge=['base','base']}\n", "which are nearly parallel"),
        ("", "optic_axis={square_to='base',along_edge=['base','end']}\n", "either square_to or"),
        ("[[reference_faces]]\nname='plate'\npoint_mm=[0,0,0]\nnormal=[0,0,1]", "", '"plate"'),
    ],
)  # fmt: skip
def test_what_tells_no_place_is_refused_in_one_line(
    text: str, top: str, said: str, told: Any
) -> None:
    with pytest.raises(InputError) as error:
        told(text, top)
    assert said in str(error.value)
    assert str(error.value).startswith("piece.toml: ")
    assert "\n" not in str(error.value)
