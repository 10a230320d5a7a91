"""Which files kerfwise wrote, by the list that it leaves or by their names."""

import hashlib
from pathlib import Path

import pytest

from optimizer.folder.own import LIST, reason_to_keep, write_file_list

NO_LIST = "{} in it is not kerfwise's, or the list (.kerfwise) that would say so is gone"


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
    assert reason_to_keep(signed) is None


def test_an_empty_folder_that_kerfwise_wrote_is_its_own(tmp_path):
    (tmp_path / "pieces").mkdir()
    write_file_list(tmp_path)
    assert reason_to_keep(tmp_path) is None


def test_an_empty_folder_of_the_users_own_is_kept(signed):
    (signed / "stones/01.ply").unlink()  # its folder is kerfwise's, though it is empty now
    assert reason_to_keep(signed) is None
    (signed / "stones/mine").mkdir()
    assert reason_to_keep(signed) == "the empty folder stones/mine in it is not kerfwise's"


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
    assert reason_to_keep(signed) == NO_LIST.format("anything")


def test_a_folder_that_lost_its_list_is_kept(signed):
    """As where its files were copied by a pattern that leaves hidden files out."""
    (signed / LIST).unlink()
    assert reason_to_keep(signed) == NO_LIST.format("anything")


def test_an_empty_folder_needs_no_list(tmp_path):
    (tmp_path / ".DS_Store").touch()
    assert reason_to_keep(tmp_path) is None
