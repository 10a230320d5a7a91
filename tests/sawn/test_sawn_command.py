"""``kerfwise sawn`` from end to end: a small block planned, sawn a little off, planned anew."""

import json
from importlib.resources import files
from pathlib import Path

import jsonschema
import numpy as np
import pytest
import shapes
import trimesh
from command import document, untimed
from scipy.spatial import ConvexHull

from optimizer import cli
from optimizer.rough import write_ply
from optimizer.sawn.sawn_file import read_sawn_file

pytestmark = pytest.mark.usefixtures("small_search")
ROUGH = """scan = "block.ply"
unit = "mm"
material = "quartz"
scan_error_mm = 0.05
[[reference_faces]]
name = "left"
point_mm = [-12, 0, 0]
normal = [-1, 0, 0]
"""
ORDER = """design = "round-brilliant"
parameters = { crown = 34.5, pavilion = 41.5 }
workshop = { most_cuts = 1 }
size = { width_mm = [11.0, 100.0] }
"""


@pytest.fixture(scope="module")
def desk(tmp_path_factory, small_search) -> Path:
    """A plan of a block, in ``plan``, that is only read."""
    desk = tmp_path_factory.mktemp("desk")
    write_ply(desk / "block.ply", shapes.box((24.0, 10.0, 9.0)))
    (desk / "rough.toml").write_text(ROUGH)
    (desk / "order.toml").write_text(ORDER)
    where = (desk / "rough.toml", desk / "order.toml", "--out", desk / "plan")
    assert cli._status(["plan", *map(str, where), "--effort", "quick"]) == 0
    return desk


@pytest.fixture(scope="module")
def cut(desk: Path) -> dict:
    (cut,) = document(desk / "plan")["cuts"]
    return cut


@pytest.fixture(scope="module")
def told(desk: Path, cut: dict) -> Path:
    """The saw strayed a quarter of a millimetre away from the stone."""
    told = desk / "told.toml"
    told.write_text(f"cut = 1\nmoved = {{ by_mm = 0.25, into_piece = {cut['above'][0]} }}\n")
    return told


def test_a_cut_a_little_off_is_taken_in_and_the_rest_planned(desk, run, cut, told, tmp_path):
    into = cut["above"][0]
    ran = run("sawn", desk / "plan", told, "--out", tmp_path / "out")
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.startswith(f"Cut 1 strayed 0.25 mm into piece {into} at its middle")
    assert "still fits as planned, 0.75 mm below the new face" in ran.out
    assert "Caution: Wear eye protection" in ran.out
    made = document(tmp_path / "out", "sawn.json")
    assert made["strayed_mm"] == pytest.approx(0.25)
    plan = document(tmp_path / "out/plans/01")
    for kind, told_in in (("plan", plan), ("sawn", made)):
        published = files("optimizer.documents").joinpath(f"{kind}.schema.json")
        jsonschema.validate(told_in, json.loads(published.read_text(encoding="utf-8")))
    assert plan["rough"]["carat"] == pytest.approx(made["pieces"][0]["carat"])
    rough = trimesh.load(desk / "plan/rough.ply")
    kerf = rough.volume - sum(
        trimesh.load(tmp_path / "out" / piece["mesh"]).volume for piece in made["pieces"]
    )
    rim = rough.section(made["sawn"]["normal"], made["sawn"]["point_mm"]).vertices
    flat = rim @ np.linalg.svd(rim - rim.mean(axis=0))[2][:2].T
    assert kerf == pytest.approx(0.4 * ConvexHull(flat).volume, rel=1e-3)  # the block is convex
    assert (tmp_path / "out/sawn.toml").read_text() == told.read_text()
    assert not (tmp_path / "out/plans/02").exists()

    again = run("sawn", desk / "plan", told, "--out", tmp_path / "again")
    assert again.out.replace("again", "out") == ran.out
    assert untimed(tmp_path / "again/plans/01") == untimed(tmp_path / "out/plans/01")
    assert document(tmp_path / "again", "sawn.json") == made


def test_a_full_folder_is_refused_and_what_is_read_never_replaced(desk, run, told, tmp_path):
    (tmp_path / "inner.toml").write_text("cut = 1\n")
    full = run("sawn", desk / "plan", told, "--out", tmp_path)
    assert (full.status, "not empty" in full.err) == (2, True)
    foreign = run("sawn", desk / "plan", told, "--out", tmp_path, "--replace")
    assert (foreign.status, "inner.toml in it is not kerfwise's" in foreign.err) == (2, True)
    read = run("sawn", desk / "plan", told, "--out", desk / "plan", "--replace")
    assert (read.status, "this run reads it, and --replace" in read.err) == (
        2,
        True,
    )


def test_where_the_saw_leaves_no_stone_the_command_says_so(desk, run, cut, tmp_path):
    """So far into the stone's piece that no stone of the order's size is left."""
    told = tmp_path / "told.toml"
    deep = 0.4 * np.ptp(trimesh.load(desk / "plan/pieces/01.ply").vertices @ cut["normal"])
    told.write_text(f"cut = 1\nmoved = {{ by_mm = {deep:.2f}, into_piece = {cut['below'][0]} }}\n")
    ran = run("sawn", desk / "plan", told, "--out", tmp_path / "out")
    assert ran.status == 3
    assert "is lost: the saw went" in ran.out
    assert "no stone of the order fits in it any more" in ran.out
    (plan,) = (tmp_path / "out/plans").iterdir()
    assert document(plan)["stones"] == []


def test_faults_are_one_line_and_leave_nothing(desk, run, tmp_path):
    told = tmp_path / "told.toml"
    for text, said in (
        ("cut = 2\n", "told.toml: cut 2 is not in"),
        ("cut = 1\nweights_ct = { 1 = 0.1 }\n", "no error of model or balance is that large"),
        ("cut = ", "is not a valid TOML file"),
    ):
        told.write_text(text)
        ran = run("sawn", desk / "plan", told, "--out", tmp_path / "out")
        assert (ran.status, ran.out) == (2, "")
        assert said in ran.err
        assert ran.err.count("\n") == 1
    ran = run("sawn", desk, told, "--out", tmp_path / "out")
    assert (ran.status, "is not a valid TOML" in ran.err) == (2, True)
    told.write_text("cut = 1\n")
    ran = run("sawn", desk, told, "--out", tmp_path / "out")
    assert "holds no plan.json" in ran.err
    assert [path.name for path in tmp_path.iterdir()] == ["told.toml"]


def test_the_example_is_such_a_file_line_by_line(run, tmp_path):
    ran = run("sawn", "--example")
    assert ran.status == 0
    (tmp_path / "told.toml").write_text(ran.out)
    assert read_sawn_file(tmp_path / "told.toml").cut == 1
    whole = "\n".join(
        line.removeprefix("# ") if "=" in line or line.startswith("# [[") else line
        for line in ran.out.splitlines()
        if "distances_mm" not in line and "measured_on = 1" not in line
    )
    (tmp_path / "whole.toml").write_text(whole)
    told = read_sawn_file(tmp_path / "whole.toml")
    assert told.moved.by_mm == 0.3
    assert told.weights_ct == {1: 42.1, 2: 18.05}
    assert (told.flaws[0].seen_on, told.boundaries[0].angle_to_face_deg) == (1, 85)
