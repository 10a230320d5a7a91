"""A folder of results: complete or absent; modes, links and what is others' stay."""

import os
import stat
from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.files.reading import SETTINGS, read_file
from optimizer.folder import swap, whole, whole_folder
from optimizer.folder.own import LIST

posix = pytest.mark.skipif(os.name != "posix", reason="a matter of POSIX folders")


def write(out: Path, text: str, *, replace: bool = False) -> None:
    with whole_folder(out, replace) as fresh:
        (fresh / "deep").mkdir()
        (fresh / "deep/plan.json").write_text(text)


def read(out: Path) -> str:
    return (out / "deep/plan.json").read_text()


def everything_in(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else b""
        for path in folder.rglob("*")
    }


def refused(out: Path, said: str, *, replace: bool = True) -> None:
    """On entry, with one line, and all is as before."""
    with pytest.raises(InputError, match=said) as error, whole_folder(out, replace):
        raise AssertionError
    assert "\n" not in str(error.value)


# --- complete or absent ------------------------------------------------------------------------


def test_it_is_written_with_its_parents_and_nothing_beside_it(tmp_path):
    write(tmp_path / "new/deeper/out", "plan")
    assert read(tmp_path / "new/deeper/out") == "plan"
    assert list((tmp_path / "new/deeper").iterdir()) == [tmp_path / "new/deeper/out"]


@pytest.mark.parametrize("fault", [OSError, InputError, KeyboardInterrupt])
def test_a_failure_leaves_nothing_not_even_parents(tmp_path, fault):
    def write_half() -> None:
        with whole_folder(tmp_path / "new/out", False) as fresh:
            (fresh / "half").touch()
            raise fault

    with pytest.raises(fault):
        write_half()
    assert list(tmp_path.iterdir()) == []


def test_a_failure_keeps_the_old_folder(tmp_path):
    write(tmp_path / "out", "old")
    before = everything_in(tmp_path)
    with pytest.raises(OSError, match="full"), whole_folder(tmp_path / "out", True):
        raise OSError("full")
    assert everything_in(tmp_path) == before


def test_until_the_end_the_old_folder_stands(tmp_path):
    out = tmp_path / "out"
    write(out, "old")
    with whole_folder(out, True) as fresh:
        (fresh / "other").touch()
        assert read(out) == "old"
    assert sorted(path.name for path in out.iterdir()) == [LIST, "other"]
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_the_name_is_never_empty_where_the_system_swaps_in_one_step(tmp_path):
    """Seen by another thread would be a matter of luck; so ask which calls are made."""
    one, other = tmp_path / "one", tmp_path / "other"
    one.mkdir()
    other.mkdir()
    (one / "new").touch()
    if not swap.exchanged(one, other):
        pytest.skip("the system can't")
    assert (other / "new").exists()
    assert list(one.iterdir()) == []


@pytest.mark.parametrize("in_one_step", [True, False])
def test_both_ways_to_replace(tmp_path, monkeypatch, in_one_step):
    if not in_one_step:
        monkeypatch.setattr(swap, "exchanged", lambda one, other: False)
    for text in ("old", "new"):
        write(tmp_path / "out", text, replace=True)
    assert read(tmp_path / "out") == "new"
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_a_failed_second_rename_puts_the_old_back_and_keeps_the_new(tmp_path, monkeypatch):
    out, rename = tmp_path / "out", os.rename
    write(out, "old")

    def failing(one: Path, other: Path) -> None:
        if Path(one).name == "whole" and Path(other) == out:
            raise OSError(5, "broken")
        rename(one, other)

    monkeypatch.setattr(swap, "exchanged", lambda one, other: False)
    monkeypatch.setattr(os, "rename", failing)
    with pytest.raises(InputError, match=r"written any more \(broken\).* lies in .*out-new"):
        write(out, "new", replace=True)
    assert (read(out), read(tmp_path / "out-new")) == ("old", "new")
    assert len(list(tmp_path.iterdir())) == 2


# --- what can be no folder ---------------------------------------------------------------------


@posix
def test_what_is_no_folder_is_told_by_its_kind(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    refused(tmp_path / "pipe", "is a pipe, not a folder")


# --- what may be replaced ----------------------------------------------------------------------


def test_a_folder_with_something_in_it_is_replaced_only_when_told(tmp_path):
    write(tmp_path / "out", "old")
    refused(tmp_path / "out", "not empty; give --replace", replace=False)
    assert read(tmp_path / "out") == "old"


@pytest.mark.parametrize("name", ["notes.txt", "deep/photo.jpg", "plan.json"])
def test_a_foreign_file_is_never_deleted(tmp_path, name):
    out = tmp_path / "out"
    write(out, "old")
    (out / name).write_text("mine")
    before = everything_in(tmp_path)
    refused(out, f"{name} in it is not kerfwise's, and --replace would delete it")
    assert everything_in(tmp_path) == before


def test_nor_is_a_folder_that_kerfwise_never_wrote(tmp_path):
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos/stone.jpg").write_text("mine")
    refused(tmp_path / "photos", "stone.jpg in it is not kerfwise's")
    assert (tmp_path / "photos/stone.jpg").read_text() == "mine"


def test_nor_a_file_that_was_changed_since(tmp_path):
    write(tmp_path / "out", "old")
    (tmp_path / "out/deep/plan.json").write_text("mine")
    refused(tmp_path / "out", "deep/plan.json in it was changed since kerfwise wrote it")


def test_what_is_read_is_not_replaced_through_links_either(tmp_path):
    out = tmp_path / "out"
    write(out, "old")
    link = tmp_path / "link.json"
    link.symlink_to(out / "deep/plan.json")
    for path in (out / "deep/plan.json", out / "deep/../deep/plan.json", link):
        with (
            pytest.raises(InputError, match="this run reads it, and --replace would delete it"),
            whole_folder(out, True),
        ):
            read_file(path, SETTINGS)
    assert read(out) == "old"
    other = tmp_path / "other.toml"
    other.write_text("x = 1")
    with whole_folder(out, True):
        assert read_file(other, SETTINGS) == b"x = 1"
    assert read_file(out / LIST, SETTINGS)  # afterwards it may be read


def test_a_file_that_comes_during_the_run_is_kept_and_told(tmp_path, capsys):
    out = tmp_path / "out"
    write(out, "old")
    with whole_folder(out, True) as fresh:
        (fresh / "new").touch()
        (out / "notes.txt").write_text("mine")
    assert sorted(path.name for path in out.iterdir()) == [LIST, "new"]
    assert (tmp_path / "out-before/notes.txt").read_text() == "mine"
    assert "notes.txt in it is not kerfwise's, so the old folder is kept" in (
        capsys.readouterr().err
    )


def test_without_replace_a_place_that_is_taken_meanwhile_is_left_and_nothing_lost(tmp_path):
    out = tmp_path / "out"

    def slowly() -> None:
        with whole_folder(out, False) as fresh:
            (fresh / "plan.json").touch()
            out.mkdir()
            (out / "notes.txt").write_text("mine")

    with pytest.raises(InputError, match=r"lies in .*out-new"):
        slowly()
    assert [path.name for path in out.iterdir()] == ["notes.txt"]
    assert (tmp_path / "out-new/plan.json").exists()


# --- asked before the work ---------------------------------------------------------------------


def test_a_file_in_the_way_is_refused_even_with_replace(tmp_path):
    taken = tmp_path / "out"
    taken.write_text("mine")
    for replace in (False, True):
        refused(taken, "is a file, not a folder", replace=replace)
    refused(taken / "deeper", r"can't be written \(Not a directory\)")
    assert taken.read_text() == "mine"


def test_names_that_are_too_long(tmp_path):
    refused(tmp_path / ("x" * 300), "File name too long")
    refused(tmp_path / ("x" * 250), "File name too long")  # so would be the hidden folder's
    assert list(tmp_path.iterdir()) == []


def test_the_folder_one_stands_in(tmp_path, monkeypatch):
    inner = tmp_path / "inner"
    inner.mkdir()
    monkeypatch.chdir(inner)
    for out in (Path(), inner, tmp_path, Path("..")):
        refused(out, "is your current folder, or one above it")
    assert list(tmp_path.iterdir()) == [inner]


@posix
@pytest.mark.parametrize("code", [16, 18, 1, 13])
def test_a_folder_that_no_rename_moves(tmp_path, monkeypatch, code):
    """Busy as a mount point is, across devices, in another's sticky folder, without the right:
    root, whom tests may be, is hindered by none but the first."""
    out, rename = tmp_path / "out", os.rename
    out.mkdir()

    def failing(one: Path, other: Path) -> None:
        if Path(one) == out:
            raise OSError(code, os.strerror(code))
        rename(one, other)

    monkeypatch.setattr(os, "rename", failing)
    refused(out, f"can't be replaced .{os.strerror(code)}.")
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@posix
def test_asking_moves_nothing(tmp_path):
    """The rename that is tried can't succeed: its goal has something in it."""
    out, work = tmp_path / "out", tmp_path / "work"
    out.mkdir()
    work.mkdir()
    inode = out.stat().st_ino
    assert (whole._fresh(work, out, out) / LIST).exists()
    assert out.stat().st_ino == inode


# --- what stays --------------------------------------------------------------------------------


@posix
@pytest.mark.parametrize("filled", [False, True])
def test_the_mode_of_a_folder_stays(tmp_path, filled):
    out = tmp_path / "out"
    out.mkdir()
    if filled:
        write(out, "old")
    out.chmod(0o2750)
    write(out, "new", replace=True)
    assert stat.S_IMODE(out.stat().st_mode) == 0o2750


@posix
@pytest.mark.parametrize("there", [False, True])
def test_a_link_stays_a_link(tmp_path, there):
    out, real = tmp_path / "out", tmp_path / "elsewhere/real"
    if there:
        real.mkdir(parents=True)
    out.symlink_to(real)
    for text in ("old", "new"):
        write(out, text, replace=True)
    assert out.is_symlink()
    assert read(real) == "new"
    assert [path.name for path in real.parent.iterdir()] == ["real"]


@posix
def test_a_link_that_leads_to_itself(tmp_path):
    (tmp_path / "out").symlink_to(tmp_path / "out")
    refused(tmp_path / "out", "is a link that leads back to itself")
