"""A plan's folder read back, and folders that are none."""

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
import shapes

from optimizer.errors import InputError
from optimizer.mesh import volume
from optimizer.rough import write_ply
from optimizer.sawn.plan_folder import PlanFolder, read_plan_folder


def test_cuts_pieces_and_stones_come_back(planned: PlanFolder) -> None:
    assert planned.rough.scan == "block.ply"
    assert [face.name for face in planned.rough.reference_faces] == [
        "left", "right", "base", "front"
    ]  # fmt: skip
    first, second = (one.cut for one in planned.cuts)
    assert (first.piece, first.below, first.above) == (0, (1,), (2,))
    assert first.plane.normal == pytest.approx([1.0, 0.0, 0.0])
    assert first.plane.offset == pytest.approx(2.0)
    assert second.plane.offset == pytest.approx(12.5)
    assert len(planned.cuts[0].distances) == 5
    assert volume(planned.piece(1)) == pytest.approx(16.8 * 120.0)
    assert planned.stones[0].mesh.vertices.mean(axis=0)[0] == pytest.approx(-6.0, abs=0.1)
    assert (planned.seed, planned.effort) == (0, "quick")


def test_a_stone_is_under_every_piece_that_leads_to_it(planned: PlanFolder) -> None:
    under = {piece: len(planned.stones_under(piece)) for piece in range(5)}
    assert under == {0: 1, 1: 1, 2: 0, 3: 1, 4: 0}


def test_earlier_faces_face_out_of_their_piece(planned: PlanFolder) -> None:
    ((number, plane),) = planned.sawn_faces(1)
    assert (number, plane.offset) == (1, pytest.approx(1.8))
    assert plane.normal == pytest.approx([1.0, 0.0, 0.0])
    assert list(planned.sawn_faces(0)) == []


def broken(folder: Path, to: Path, **changes: object) -> Path:
    shutil.copytree(folder, to)
    document = json.loads((to / "plan.json").read_text())
    (to / "plan.json").write_text(json.dumps(document | changes))
    return to


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"format": "other/1"}, 'is no plan of the format "kerfwise-plan/1"'),
        (
            {"status": "impossible", "stones": [], "ruled_out_by": [], "checksum": ""},
            "found no stone, so there is",
        ),
        ({"cuts": [{"piece": 0}]}, r'key "cuts\[0\].below" is missing'),
        ({"pieces": "none"}, 'key "pieces" must be a list'),
    ],
)
def test_a_changed_document_is_refused(folder, tmp_path, changes, said):
    with pytest.raises(InputError, match=said):
        read_plan_folder(broken(folder, tmp_path / "plan", **changes))


@pytest.mark.parametrize(
    ("path", "value"),
    [(("cuts", 0, "kerf_mm"), 0.6), (("rough", "scan_error_mm"), 0.07), (("made_by", "seed"), 7)],
)
def test_a_plausible_change_is_refused_by_the_checksum(folder, tmp_path, path, value):
    document = json.loads((folder / "plan.json").read_text())
    table = document
    for step in path[:-1]:
        table = table[step]
    assert table[path[-1]] != value
    table[path[-1]] = value
    with pytest.raises(InputError, match=r"plan.json: was changed since it was written; a plan's"):
        read_plan_folder(broken(folder, tmp_path / "plan", **document))


def test_the_density_is_held_against_weight_and_volume(folder, tmp_path):
    rough = json.loads((folder / "plan.json").read_text())["rough"]
    with pytest.raises(InputError, match=r'"rough" says 47.7 carat; its volume and specific'):
        read_plan_folder(broken(folder, tmp_path / "plan", rough=rough | {"sg": 3.9}))


def test_the_document_may_be_laid_out_anew(folder, tmp_path):
    other = broken(folder, tmp_path / "plan")
    document = json.loads((other / "plan.json").read_text())
    (other / "plan.json").write_text(json.dumps(dict(reversed(document.items())), indent=1))
    assert len(read_plan_folder(other).cuts) == 2


def test_folders_that_hold_no_plan_are_refused(folder, tmp_path):
    with pytest.raises(InputError, match=r"holds no plan.json; name the folder"):
        read_plan_folder(tmp_path)
    with pytest.raises(InputError, match=rf"is a file; name the folder that holds it, {folder}"):
        read_plan_folder(folder / "plan.json")
    (tmp_path / "plan.json").write_text("{")
    with pytest.raises(InputError, match="is not valid JSON"):
        read_plan_folder(tmp_path)
    older = broken(folder, tmp_path / "older")
    (older / "rough.toml").unlink()
    with pytest.raises(InputError, match=r"has no rough.toml"):
        read_plan_folder(older)


def test_a_piece_must_be_the_plans_own(folder, tmp_path):
    other = broken(folder, tmp_path / "plan")
    write_ply(other / "pieces/01.ply", shapes.box((3.0, 3.0, 3.0)))
    with pytest.raises(InputError, match=r"01.ply: weighs .* and not the .* of plan.json"):
        read_plan_folder(other).piece(1)


def foreign_stone(plan: Path) -> None:
    shutil.copy(plan / "pieces/01.ply", plan / "stones/01.ply")


def missing_stone(plan: Path) -> None:
    (plan / "stones/01.ply").unlink()


def linked_stone(plan: Path) -> None:
    (plan / "stones/01.ply").rename(plan.parent / "stone.ply")
    (plan / "stones/01.ply").symlink_to(plan.parent / "stone.ply")


def foreign_rough(plan: Path) -> None:
    shutil.copy(plan / "pieces/01.ply", plan / "rough.ply")


def other_material(plan: Path) -> None:
    text = (plan / "rough.toml").read_text()
    (plan / "rough.toml").write_text(text.replace('"quartz"', '"corundum"'))


def foreign_order(plan: Path) -> None:
    (plan / "order.toml").write_text('[[wanted]]\nname = "ring stone"\ndesign = "oval"\n')


def other_design(plan: Path) -> None:
    (plan / "order.toml").write_text('design = "oval"\n')


def mesh_outside(plan: Path) -> None:
    text = (plan / "plan.json").read_text()
    (plan / "plan.json").write_text(text.replace('"stones/01.ply"', '"../stone.ply"'))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (foreign_stone, r"stones/01.ply: weighs .* ct and not the .* ct of plan.json"),
        (missing_stone, r"stones/01.ply: there is no such file"),
        (linked_stone, r"stones/01.ply: leads to a file outside its folder"),
        (mesh_outside, r'key "stones\[0\].mesh" must match .*, got "../stone.ply"'),
        (foreign_rough, r"rough.toml: weighs .* ct and not the .* ct of plan.json"),
        (other_material, r"rough.toml: weighs .* ct and not the .* ct of plan.json"),
        (foreign_order, "stone 1 is a six-sided test stone, for which order.toml does not ask"),
        (other_design, "stone 1 is a six-sided test stone, for which order.toml does not ask"),
    ],
)
def test_files_that_do_not_fit_together_are_refused(change, said, folder, tmp_path):
    other = broken(folder, tmp_path / "plan")
    change(other)
    with pytest.raises(InputError, match=said):
        read_plan_folder(other)


def test_a_cut_that_is_not_there(planned: PlanFolder) -> None:
    with pytest.raises(InputError, match=r"cut 3 is not in .*, whose plan has 2"):
        planned.cut(3)
    assert np.isfinite(planned.cut(2).cut.centre).all()
