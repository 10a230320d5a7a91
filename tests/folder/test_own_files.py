"""Which files kerfwise wrote, by the list that it leaves or by their names."""

import hashlib
from pathlib import Path

import pytest

from optimizer.folder.own import LIST, reason_to_keep, write_file_list


@pytest.fixture
def signed(tmp_path: Path) -> Path:
    (tmp_path / "stones").mkdir()
    (tmp_path / "stones/01.ply").write_bytes(b"solid")
    (tmp_path / "anything").write_bytes(b"")
    write_file_list(tmp_path)
    return tmp_path


def test_the_list_is_one_that_sha256sum_checks(signed):
    head, *lines = (signed / LIST).read_text().splitlines()
    assert head.startswith("#")
    digest = hashlib.sha256(b"solid").hexdigest()
    assert lines[1] == f"{digest}  stones/01.ply"
    assert len(lines) == 2


def test_files_may_be_missing_and_litter_be_there(signed):
    (signed / "anything").unlink()
    (signed / "stones/.DS_Store").touch()
    (signed / "Thumbs.db").touch()
    (signed / "empty").mkdir()
    assert reason_to_keep(signed) is None


def test_links_and_special_files_are_strangers(signed):
    (signed / "anything").unlink()
    (signed / "anything").symlink_to(signed / "stones/01.ply")
    assert reason_to_keep(signed) == "anything in it is not kerfwise's"
    (signed / "anything").unlink()
    (signed / "linked").symlink_to(signed / "stones")
    assert reason_to_keep(signed) == "linked in it is not kerfwise's"


@pytest.mark.parametrize("text", [b"", b"notes of mine\n", b"\xff\xfe\n" * 9])
def test_another_file_of_the_lists_name_is_no_list(signed, text):
    (signed / LIST).write_bytes(text)
    assert reason_to_keep(signed) == "anything in it is not kerfwise's"


PLAN = '{\n  "format": "kerfwise-plan/1",\n'
USUAL = (
    "rough.toml", "rough.ply", "rough-flaw-1.ply", "order.toml", "report.html", "scene.glb",
    "stones/01.ply", "pieces/03.ply", "offcuts/02.toml", "offcuts/02-label.svg",
    "offcuts/02-flaw-1.ply", "flaws/01.ply", "face-up/01.png", "alternatives/01/stones/01.ply",
)  # fmt: skip


def furnish(folder: Path, *names: str) -> None:
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(PLAN if name.endswith("plan.json") else "")


def test_a_folder_without_a_list_is_known_by_its_kind_and_names(tmp_path):
    furnish(tmp_path, *USUAL)
    assert reason_to_keep(tmp_path) is not None  # nothing says that it is a plan's
    furnish(tmp_path, "plan.json")
    assert reason_to_keep(tmp_path) is None
    furnish(tmp_path, "scans/pebble.ply")
    assert reason_to_keep(tmp_path) == "scans/pebble.ply in it is not kerfwise's"


def test_so_is_one_of_a_cut_taken_in(tmp_path):
    furnish(tmp_path, "sawn.toml", "pieces/01.toml", "plans/01/plan.json", "plans/01/order.toml")
    (tmp_path / "sawn.json").write_text('{\n  "format": "kerfwise-sawn/1",\n')
    assert reason_to_keep(tmp_path) is None
