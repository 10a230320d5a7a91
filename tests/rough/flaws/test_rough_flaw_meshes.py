"""Flaws told by a mesh: read, scaled, checked and mended as the scan is, written back, told."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapes

from optimizer.errors import InputError
from optimizer.mesh import Mesh
from optimizer.rough import describe, load_rough, save_rough, write_ply
from optimizer.rough.flaws.shape import core_triangles, flaw_solid, inner_point, outside
from optimizer.rough.model import Flaw, Rough
from optimizer.solid import as_solid

HEAD = 'scan = "piece.ply"\nmaterial = "quartz"\nscan_error_mm = 0.05\n'
CLOUD = "[[flaws]]\nname = 'a'\nmesh = 'shapes/cloud.ply'\n"
BALL = shapes.icosphere(1.5, 2)


def loaded(folder: Path, text: str, cloud: Mesh = BALL) -> Rough:
    (folder / "shapes").mkdir()
    write_ply(folder / "piece.ply", shapes.box())
    write_ply(folder / "shapes" / "cloud.ply", cloud)
    (folder / "piece.toml").write_text(text)
    return load_rough(folder / "piece.toml")


def test_it_is_read_from_beside_the_rough_file(tmp_path: Path) -> None:
    (flaw,) = loaded(tmp_path, HEAD + CLOUD + "allowed = 'off the table'\n").flaws
    assert flaw.mesh is not None
    np.testing.assert_array_equal(core_triangles(flaw, BALL.vertices), flaw.mesh.triangles)
    assert np.sort(flaw.mesh.vertices, axis=0) == pytest.approx(np.sort(BALL.vertices, axis=0))
    assert (flaw.file, flaw.off_table, flaw.may_split) == ("shapes/cloud.ply", True, True)
    assert (flaw.normal, flaw.radius_mm, flaw.clearance_mm) == (None, 0.0, 0.2)
    assert np.linalg.norm(flaw.ends[0]) < 1.4


@pytest.mark.parametrize("scale", ["unit = 'cm'", "mm_per_unit = 10.0"])
def test_the_scans_unit_is_the_flaws(tmp_path: Path, scale: str) -> None:
    (flaw,) = loaded(tmp_path, f"{scale}\n{HEAD}{CLOUD}").flaws
    assert flaw.mesh is not None
    assert np.linalg.norm(flaw.mesh.vertices, axis=1) == pytest.approx(15.0)
    assert np.linalg.norm(flaw.ends[0]) < 14.0
    assert flaw.clearance_mm == 0.2


def test_in_an_orders_table_it_lies_beside_the_scan(tmp_path: Path) -> None:
    loaded(tmp_path, HEAD)
    table = {"material": "quartz", "flaws": [{"name": "a", "mesh": "shapes/cloud.ply"}]}
    (flaw,) = load_rough(tmp_path / "piece.ply", rough_table=table).flaws
    assert flaw.mesh is not None
    assert len(flaw.mesh.faces) == len(BALL.faces)


def test_what_is_mended_in_it_is_told(tmp_path: Path) -> None:
    inside_out = Mesh(BALL.vertices, BALL.faces[:, ::-1])
    rough = loaded(tmp_path, HEAD + CLOUD, inside_out)
    (repair,) = rough.repairs
    assert repair.sentence == 'flaw "a": the surface was inside out: every triangle turned'
    assert rough.watertight_as_read  # the scan itself
    assert flaw_solid(rough.flaws[0], BALL.vertices).volume() > 0.0


SMALL = shapes.moved(shapes.icosphere(0.5, 1), np.eye(3), np.array([5.0, 0.0, 0.0]))
TWO_BODIES = Mesh(
    np.vstack([BALL.vertices, SMALL.vertices]),
    np.vstack([BALL.faces, SMALL.faces + len(BALL.vertices)]),
)


@pytest.mark.parametrize(
    ("cloud", "said"),
    [
        (
            Mesh(BALL.vertices, BALL.faces[1:]),
            "cloud.ply: the shape is not one sound body (1 hole filled",
        ),
        (TWO_BODIES, "cloud.ply: 2 bodies, the greatest 3.00 mm"),
        (Mesh(BALL.vertices, BALL.faces[:0]), "cloud.ply: the file holds no triangles"),
    ],
)
def test_a_mesh_that_is_no_solid_is_refused(cloud: Mesh, said: str, tmp_path: Path) -> None:
    with pytest.raises(InputError) as error:
        loaded(tmp_path, HEAD + CLOUD, cloud)
    assert str(error.value).startswith(f'piece.toml: in the first [[flaws]], key "mesh": {said}')
    assert "\n" not in str(error.value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (CLOUD.replace("cloud", "clod"), 'in the first [[flaws]], key "mesh": '),
        (CLOUD.replace("cloud", "clod"), "clod.ply: there is no such file"),
        (CLOUD.replace("shapes/cloud.ply", "piece.toml"), '".toml" is no scan format read here'),
        (CLOUD.replace("shapes/cloud.ply", ""), 'in the first [[flaws]], key "mesh"'),
        (CLOUD + "point_mm = [0, 0, 0]\n", "must have either point_mm, or from_mm and to_mm, or a"),
        (CLOUD + "radius_mm = 0.1\n", "has a mesh and a radius_mm"),
        (CLOUD + "normal = [0, 0, 1]\n", "has a normal, which is only for a crack at point_mm"),
        (CLOUD + "across_mm = 1.0\n", "has across_mm, which is for a crack"),
        (CLOUD + "allowed = 'anywhere'\n", 'in the first [[flaws]], key "allowed"'),
        (CLOUD + "alowed = 'off the table'\n", 'did you mean "allowed"?'),
    ],
)  # fmt: skip
def test_mistakes_are_named(text: str, said: str, tmp_path: Path) -> None:
    with pytest.raises(InputError) as error:
        loaded(tmp_path, HEAD + text)
    assert str(error.value).startswith("piece.toml: ")
    assert said in str(error.value)
    assert "\n" not in str(error.value)


def test_it_is_told(tmp_path: Path) -> None:
    rough = loaded(tmp_path, HEAD + CLOUD + "allowed = 'off the table'\n")
    (line,) = [line for line in describe(rough) if line.startswith("flaw a: ")]
    assert line.startswith("flaw a: the shape of shapes/cloud.ply, 3 × 3 × 3 mm, about (")
    assert line.endswith("; what lies straight below the table keeps 0.2 mm clear")
    assert rough.warnings == ()


@pytest.mark.parametrize(("at", "told"), [(6.69, False), (6.71, True)])
def test_a_mesh_outside_the_piece_is_doubtful(at: float, told: bool, tmp_path: Path) -> None:
    """The box ends at 5 mm, the ball's corner on the axis reaches 1.5 mm, 0.2 mm is kept."""
    reach = float(-BALL.vertices[:, 0].min())
    ball = shapes.moved(BALL, np.eye(3), np.array([at - 1.5 + reach, 0.0, 0.0]))
    rough = loaded(tmp_path, HEAD + CLOUD, ball)
    assert any('flaw "a" lies outside the piece' in text for text in rough.warnings) is told


def test_a_written_mesh_flaw_reads_back_the_same(tmp_path: Path) -> None:
    rough = loaded(tmp_path, HEAD + CLOUD + "allowed = 'off the table'\n")
    save_rough(rough, tmp_path / "again.toml")
    (flaw,), (read,) = rough.flaws, load_rough(tmp_path / "again.toml").flaws
    assert read.mesh is not None
    assert flaw.mesh is not None
    np.testing.assert_array_equal(read.mesh.triangles, flaw.mesh.triangles)
    assert read.file == "again-flaw-1.ply"
    assert replace(read, mesh=None, ends=flaw.ends) == replace(flaw, mesh=None, file=read.file)
    np.testing.assert_array_equal(read.ends, flaw.ends)


def test_allowed_off_the_table_is_written_for_every_kind(tmp_path: Path) -> None:
    flaws = (
        Flaw("p", np.array([[1.0, 2.0, 3.0]]), None, 0.0, 0.1, 0.2, off_table=True),
        Flaw("q", np.array([[1.0, 2.0, 3.0]]), None, 0.0, 0.1, 0.2),
    )
    save_rough(replace(loaded(tmp_path, HEAD), flaws=flaws), tmp_path / "a.toml")
    assert [f.off_table for f in load_rough(tmp_path / "a.toml").flaws] == [True, False]


ROUGH = shapes.all_rough()


@pytest.mark.parametrize("name", ROUGH)
def test_a_point_within_lies_within(name: str) -> None:
    """A ball about it, by the robust kernel."""
    for seed in range(3):
        motion = shapes.random_motion(np.random.default_rng(seed), reach=50.0)
        mesh = shapes.moved(ROUGH[name], *motion)
        ball = as_solid(shapes.moved(shapes.icosphere(0.01, 1), np.eye(3), inner_point(mesh)))
        assert (ball - as_solid(mesh)).is_empty()


def test_outside_counts_the_clearance_and_the_inside() -> None:
    box = shapes.box((4.0, 4.0, 4.0))
    flaw = Flaw("f", inner_point(box)[None], None, 0.0, 0.0, 0.5, box, "box.ply")
    for size, at, out in (
        ((2.0, 2.0, 2.0), 3.51, True),  # its face is 2.51 from the middle, the flaw's at 2
        ((2.0, 2.0, 2.0), 3.49, False),
        ((2.0, 2.0, 2.0), 0.0, False),  # wholly within the flaw
        ((9.0, 9.0, 9.0), 0.0, False),  # wholly around it
    ):
        piece = shapes.moved(shapes.box(size), np.eye(3), np.array([at, 0.0, 0.0]))
        assert outside(flaw, as_solid(piece), piece.vertices) is out
