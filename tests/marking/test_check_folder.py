"""The check's folder: complete or absent, its rough file and mesh those of the piece."""

import numpy as np
import pytest
import trimesh
from command import refused
from rough_tables import level_face, split_zone
from shapes import icosphere, moved, pebble

from optimizer.folder.own import write_file_list
from optimizer.marking import files, write_check
from optimizer.rough import load_rough, write_ply

FILES = ["check.png", "marking.html", "rough.ply", "rough.toml"]


def names(folder):
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


ROUGH = f"""\
scan = "pebble.ply"
unit = "cm"
material = "topaz"
weighed_ct = 71.5
scan_error_mm = 0.05
optic_axis = [0, 0, 1]
{split_zone("blue", "brown")}[[flaws]]
name = "cloud"
mesh = "cloud.ply"
{level_face("top", 7)}"""


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    folder = tmp_path_factory.mktemp("desk")
    stone = pebble(3, 0.8, 3, noise_mm=0.002)
    write_ply(folder / "pebble.ply", stone)
    write_ply(folder / "cloud.ply", moved(icosphere(0.1, 1), np.eye(3), np.array([0.2, 0, 0])))
    (folder / "rough.toml").write_text(ROUGH)
    write_check(load_rough(folder / "rough.toml"), folder / "out")
    return folder


def test_the_folder_holds_these_files_and_no_others(desk):
    assert names(desk / "out") == sorted([*FILES, "rough-flaw-1.ply"])


def test_the_rough_file_tells_the_same_piece(desk):
    before, after = load_rough(desk / "rough.toml"), load_rough(desk / "out/rough.toml")
    assert after.mm_per_unit == 1.0
    assert np.array_equal(after.mesh.vertices, before.mesh.vertices)
    assert (after.carat, after.weighed_ct) == (before.carat, before.weighed_ct)
    assert after.zones[0].boundary.offset == pytest.approx(before.zones[0].boundary.offset)
    assert after.flaws[0].mesh.vertices == pytest.approx(before.flaws[0].mesh.vertices)
    assert [face.name for face in after.reference_faces] == ["top"]
    solid = trimesh.load(desk / "out/rough.ply", process=False)
    assert solid.is_watertight
    assert solid.volume == pytest.approx(before.volume_mm3)


def test_the_same_piece_gives_the_same_bytes(desk, tmp_path):
    write_check(load_rough(desk / "rough.toml"), tmp_path / "again")
    for name in names(desk / "out"):
        assert (tmp_path / "again" / name).read_bytes() == (desk / "out" / name).read_bytes(), name


def test_nothing_speaks_of_a_folder(desk):
    for name in ("marking.html", "rough.toml"):
        assert str(desk) not in (desk / "out" / name).read_text(encoding="utf-8")


def test_a_full_folder_is_refused_and_only_ones_own_replaced(desk, tmp_path, run):
    out = tmp_path / "out"
    ran = run("check", desk / "rough.toml", "--out", out)
    assert (ran.status, "marking.html" in ran.out) == (0, True)
    refused(run("check", desk / "rough.toml", "--out", out), "not empty; give --replace")
    assert run("check", desk / "rough.toml", "--out", out, "--replace").status == 0
    (out / "notes.txt").write_text("mine")
    refused(
        run("check", desk / "rough.toml", "--out", out, "--replace"),
        "notes.txt in it is not kerfwise's",
    )
    assert (out / "notes.txt").read_text() == "mine"


def test_a_failure_midway_leaves_nothing(desk, tmp_path, run, monkeypatch):
    def fail(*_):
        raise OSError(28, "no space left on device")

    monkeypatch.setattr(files, "marking_html", fail)
    refused(run("check", desk / "rough.toml", "--out", tmp_path / "out"))
    assert list(tmp_path.iterdir()) == []


def test_the_folder_of_what_is_read_is_not_replaced(desk, tmp_path, run):
    """Neither a user's own folder, nor the check's where its own rough file is read."""
    write_file_list(desk / "out")
    before = names(desk)
    refused(run("check", desk / "rough.toml", "--out", desk, "--replace"), "would delete")
    refused(
        run("check", desk / "out/rough.toml", "--out", desk / "out", "--replace"),
        "rough.toml: this run reads it, and --replace would delete it",
    )
    assert names(desk) == before


def test_without_out_nothing_is_written_and_replace_alone_is_refused(desk, run):
    before = names(desk)
    ran = run("check", desk / "rough.toml")
    assert (ran.status, "scan: pebble.ply" in ran.out) == (0, True)
    refused(run("check", desk / "rough.toml", "--replace"), "give --out too")
    assert names(desk) == before
