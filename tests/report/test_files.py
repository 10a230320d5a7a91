"""The plan's files: its meshes are those of the plan."""

import json
from dataclasses import replace

import numpy as np
import pytest
import trimesh
from shapes import icosphere, moved

from optimizer.folder.own import reason_to_keep, write_file_list
from optimizer.offcuts.piece_rough import offcut_rough
from optimizer.order import load_order
from optimizer.report import write_plan
from optimizer.rough import load_rough
from optimizer.rough.model import Flaw
from optimizer.rough.rough_file.save import save_rough


def names(folder):
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


@pytest.fixture(scope="module")
def written(plan, tmp_path_factory):
    out = tmp_path_factory.mktemp("plan") / "out"
    write_plan(plan, out)
    return out


def test_the_folder_holds_these_files_and_no_others(written):
    assert names(written) == [
        "offcuts/02-label.svg",
        "offcuts/02.ply",
        "offcuts/02.toml",
        "order.toml",
        "pieces/01.ply",
        "pieces/02.ply",
        "plan.json",
        "report.html",
        "rough.ply",
        "rough.toml",
        "scene.glb",
        "stones/01.ply",
    ]
    assert names(written.parent) == ["out/" + name for name in names(written)]


def test_meshes_have_the_volumes_and_places_of_the_plan(plan, written):
    """Read back by trimesh, a reader of others."""
    document = json.loads((written / "plan.json").read_text(encoding="utf-8"))
    expected = {"rough.ply": (plan.rough.volume_mm3, plan.rough.mesh)}
    for entry, stone in zip(document["stones"], plan.stones, strict=True):
        expected[entry["mesh"]] = (entry["volume_mm3"], stone.placement.mesh())
    for entry, offcut in zip(document["offcuts"], plan.sawing.offcuts, strict=True):
        expected[entry["mesh"]] = (entry["volume_mm3"], offcut.mesh)
    for name, (cubic, mesh) in expected.items():
        read = trimesh.load(written / name, process=False)
        assert read.is_watertight
        assert read.volume == pytest.approx(cubic, rel=1e-12)
        assert np.array_equal(read.vertices, mesh.vertices)


def test_pieces_and_kerf_make_up_the_rough(plan, written):
    """Closed form: the cut is square to the box, so the kerf takes 0.4 x 10 x 9 mm³."""
    pieces = [trimesh.load(written / f"pieces/{k:02d}.ply").volume for k in (1, 2)]
    assert sum(pieces) == pytest.approx(plan.rough.volume_mm3 - 0.4 * 10.0 * 9.0, rel=1e-12)


def test_coordinates_are_binary_doubles(written):
    head = (written / "stones/01.ply").read_bytes()[:200]
    assert b"binary_little_endian" in head
    assert b"property double x" in head


def test_an_offcut_is_ready_to_plan_in(plan, written):
    rough = load_rough(written / "offcuts/02.toml")
    assert rough.carat == pytest.approx(plan.sawing.offcuts[0].carat, rel=1e-12)
    assert rough.material == plan.rough.material
    assert rough.scan_error_mm == plan.rough.scan_error_mm
    assert rough.zones[0].name == "split"
    assert rough.zones[0].plane.offset == pytest.approx(plan.rough.zones[0].plane.offset)
    assert {face.name for face in rough.reference_faces} == {
        "sawn face of cut 1",
        "base",
        "far end",
    }
    sawn = next(f for f in rough.reference_faces if f.name.startswith("sawn"))
    heights = rough.mesh.vertices @ sawn.plane.normal - sawn.plane.offset
    assert heights.max() == pytest.approx(0.0, abs=1e-9)


def test_the_rough_can_be_planned_in_again(plan, written):
    rough = load_rough(written / "rough.toml")
    assert np.array_equal(rough.mesh.triangles, plan.rough.mesh.triangles)
    assert rough.zones[0].plane.offset == pytest.approx(plan.rough.zones[0].plane.offset)
    assert (rough.weighed_ct, rough.scan_error_mm) == (23.8, plan.rough.scan_error_mm)
    assert [face.name for face in rough.reference_faces] == ["base", "far end"]
    assert rough.optic_axis == pytest.approx(plan.rough.optic_axis)


def test_an_offcut_keeps_the_flaws_that_lie_in_it(plan, tmp_path):
    offcut, stone = plan.sawing.offcuts[0], plan.stones[0].placement
    spots = {"in it": offcut.mesh.vertices.mean(axis=0), "in the stone": stone.pose.translation}
    flaws = tuple(Flaw(name, at[None], None, 0.0, 0.1, 0.2) for name, at in spots.items())
    both = Flaw("through both", np.array(list(spots.values())), None, 0.0, 0.0, 0.2)
    flawed = replace(plan, rough=replace(plan.rough, flaws=(*flaws, both)))
    save_rough(offcut_rough(flawed.rough, flawed.sawing, offcut), tmp_path / "02.toml")
    kept = load_rough(tmp_path / "02.toml").flaws
    assert [flaw.name for flaw in kept] == ["in it", "through both"]
    assert kept[0].ends == pytest.approx(flaws[0].ends)


def test_without_offcuts_there_is_no_folder_of_them(plan, tmp_path):
    write_plan(replace(plan, sawing=replace(plan.sawing, offcuts=())), tmp_path / "out")
    assert not (tmp_path / "out/offcuts").exists()


def test_meshes_of_flaws_are_written_and_go_with_their_offcuts(plan, tmp_path):
    """One within the offcut, one about the stone; a point between them keeps its number."""
    offcut, stone = plan.sawing.offcuts[0], plan.stones[0].placement
    spots = (stone.pose.translation, stone.pose.translation, offcut.mesh.vertices.mean(axis=0))
    meshes = [moved(icosphere(0.3, 1), np.eye(3), at) for at in spots]
    named = zip("abc", spots, strict=True)
    point, *solids = (Flaw(name, at[None], None, 0.0, 0.0, 0.2) for name, at in named)
    about, within = (
        replace(flaw, mesh=mesh, file=f"deep/{flaw.name}.stl", off_table=True)
        for flaw, mesh in zip(solids, meshes[1:], strict=True)
    )
    flawed = replace(plan, rough=replace(plan.rough, flaws=(point, about, within)))
    write_plan(flawed, tmp_path / "out")
    told = json.loads((tmp_path / "out/plan.json").read_text())["rough"]["flaws"]
    assert [flaw["mesh"] for flaw in told] == [None, "flaws/02.ply", "flaws/03.ply"]
    assert names(tmp_path / "out/flaws") == ["02.ply", "03.ply"]
    written = trimesh.load(tmp_path / "out/flaws/03.ply")
    assert written.center_mass == pytest.approx(spots[2])
    (kept,) = load_rough(tmp_path / "out/offcuts/02.toml").flaws
    assert (kept.name, kept.file, kept.off_table) == ("c", "02-flaw-1.ply", True)
    assert np.ptp(kept.mesh.vertices, axis=0) == pytest.approx(np.ptp(meshes[2].vertices, axis=0))
    assert kept.mesh.vertices.mean(axis=0) == pytest.approx(spots[2])


def test_the_order_can_be_planned_again(plan, written):
    assert load_order(written / "order.toml") == plan.order


def test_the_same_plan_gives_the_same_bytes(plan, written, tmp_path):
    again = tmp_path / "again"
    write_plan(plan, again)
    for name in names(written):
        assert (again / name).read_bytes() == (written / name).read_bytes(), name


def test_nothing_speaks_of_a_folder(written):
    for name in ("plan.json", "report.html", "order.toml", "offcuts/02.toml"):
        text = (written / name).read_text(encoding="utf-8")
        assert str(written.parent) not in text
        assert "/home/" not in text


def test_a_plan_without_a_stone_has_its_files_too(plan_without_stone, tmp_path):
    write_plan(plan_without_stone, tmp_path / "out")
    assert names(tmp_path / "out") == [
        "order.toml",
        "plan.json",
        "report.html",
        "rough.ply",
        "rough.toml",
        "scene.glb",
    ]


def test_a_plans_folder_is_known_again_by_its_list(plan, tmp_path):
    """So --replace may delete it, and nothing that another put there or changed."""
    out = tmp_path / "out"
    write_plan(plan, out)
    assert "the list (.kerfwise) that would say so is gone" in (reason_to_keep(out) or "")
    write_file_list(out)
    assert reason_to_keep(out) is None
    (out / "order.toml").write_text("design = 'mine'")
    assert reason_to_keep(out) == "order.toml in it was changed since kerfwise wrote it"
