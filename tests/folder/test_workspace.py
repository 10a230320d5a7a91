"""The hidden folder of a run: one run a place, and what killed runs left is mended."""

import errno
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import optimizer
from optimizer.errors import InputError
from optimizer.folder import lock, whole_folder, workspace
from optimizer.folder.own import write_file_list

pytestmark = pytest.mark.skipif(os.name != "posix", reason="a matter of POSIX locks")

HOME = Path(optimizer.__file__).parent.parent
# Writes half, says so and waits to be killed.
AT_WORK = """
import sys
from pathlib import Path
from optimizer.folder import whole_folder
with whole_folder(Path(sys.argv[1]), True) as fresh:
    (fresh / "half").touch()
    print("at work", flush=True)
    sys.stdin.read()
"""


@pytest.fixture
def at_work(tmp_path):
    """Another process that writes to tmp_path/out."""
    process = subprocess.Popen(
        [sys.executable, "-c", AT_WORK, str(tmp_path / "out")],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, env={**os.environ, "PYTHONPATH": str(HOME)},
    )  # fmt: skip
    assert process.stdout.readline() == b"at work\n"
    yield process
    process.kill()
    process.communicate()


def write(out: Path, name: str = "whole", *, replace: bool = False) -> None:
    with whole_folder(out, replace) as fresh:
        (fresh / name).touch()


def folder(path: Path, *names: str) -> Path:
    path.mkdir(parents=True)
    for name in names:
        (path / name).write_text(name)
    return path


def test_the_later_of_two_runs_is_refused_until_the_first_is_killed(at_work, tmp_path):
    out = tmp_path / "out"
    for replace in (False, True):
        with pytest.raises(InputError, match="another run is writing there"):
            write(out, replace=replace)
    assert (tmp_path / ".out.kerfwise/partial/half").exists()  # left as it is
    write(tmp_path / "other")
    at_work.send_signal(signal.SIGKILL)
    at_work.wait()
    assert (tmp_path / ".out.kerfwise/partial/half").exists()
    write(out)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["other", "out"]


def test_two_runs_of_one_process_are_two_runs(tmp_path):
    with (
        whole_folder(tmp_path / "out", False),
        pytest.raises(InputError, match="another run"),
        whole_folder(tmp_path / "out", False),
    ):
        raise AssertionError


def test_a_kill_between_the_two_renames_is_mended_and_told(tmp_path, capsys):
    out = tmp_path / "out"
    write(out, "old")
    work = folder(tmp_path / ".out.kerfwise")
    out.rename(work / "aside")
    write_file_list(folder(work / "whole", "new"))
    with pytest.raises(InputError, match="not empty"):
        write(out)
    assert (out / "old").exists()
    assert capsys.readouterr().err == (
        f"kerfwise: {out}: put back as it was; a run was killed while replacing the folder\n"
    )
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_a_workspace_that_the_system_keeps_is_told_and_cleaned_by_the_next_run(
    tmp_path, capsys, monkeypatch
):
    def refused(path):
        raise PermissionError(errno.EACCES, "Permission denied")

    out, work = tmp_path / "out", tmp_path / ".out.kerfwise"
    with monkeypatch.context() as patch:
        patch.setattr(workspace.shutil, "rmtree", refused)
        write(out)
    assert capsys.readouterr().err == (
        f"kerfwise: {work}: can't be deleted (Permission denied); the next run with this --out "
        "deletes it, or delete it by hand\n"
    )
    assert work.exists()
    write(out, replace=True)
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_a_kill_after_the_swap_leaves_only_what_is_cleaned(tmp_path, capsys):
    out = tmp_path / "out"
    write(out, "new")
    write_file_list(folder(tmp_path / ".out.kerfwise/aside", "old"))
    write_file_list(folder(tmp_path / ".out.kerfwise/whole", "old"))
    folder(tmp_path / ".out.kerfwise/partial", "anything at all")
    write(out, "newer", replace=True)
    assert (out / "newer").exists()
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
    assert capsys.readouterr().err == ""


def test_a_folder_before_with_foreign_files_is_kept_even_then(tmp_path):
    write(tmp_path / "out")
    write_file_list(folder(tmp_path / ".out.kerfwise/whole", "old"))
    (tmp_path / ".out.kerfwise/whole/notes.txt").write_text("mine")
    folder(tmp_path / "out-before")  # the name is taken
    write(tmp_path / "out", replace=True)
    assert (tmp_path / "out-before2/notes.txt").read_text() == "mine"


def test_a_hidden_folder_of_anothers_is_left_alone(tmp_path):
    folder(tmp_path / ".out.kerfwise", "notes.txt")
    with pytest.raises(InputError, match="holds files that kerfwise didn't write"):
        write(tmp_path / "out")
    assert (tmp_path / ".out.kerfwise/notes.txt").read_text() == "notes.txt"


def test_a_link_of_the_hidden_name_is_not_followed(tmp_path):
    mine = folder(tmp_path / "mine", "partial")
    (tmp_path / ".out.kerfwise").symlink_to(mine)
    with pytest.raises(InputError, match="can't be written"):
        write(tmp_path / "out")
    assert (mine / "partial").exists()


@pytest.mark.parametrize("fcntl", [None, lock.fcntl])
def test_without_locks_a_hidden_folder_is_left_to_the_user(tmp_path, monkeypatch, fcntl):
    def unsupported(*_: object) -> None:
        raise OSError(38, "not implemented")

    if fcntl:
        monkeypatch.setattr(lock.fcntl, "flock", unsupported)
    else:
        monkeypatch.setattr(lock, "fcntl", None)
    write(tmp_path / "out")
    folder(tmp_path / ".other.kerfwise/partial")
    with pytest.raises(InputError, match="if no other run is writing there, delete it"):
        write(tmp_path / "other")


def test_a_lock_on_a_folder_that_went_is_none(tmp_path, monkeypatch):
    work, real = folder(tmp_path / "work"), lock._lock

    def late(number: int) -> None:
        work.rmdir()  # its last holder deletes it, and another run makes it anew
        work.mkdir()
        real(number)

    monkeypatch.setattr(lock, "_lock", late)
    with pytest.raises(FileNotFoundError):
        lock.lock_folder(work)


def test_a_folder_that_its_holder_deletes_meanwhile_is_made_anew(tmp_path, monkeypatch):
    real, tries = workspace.lock_folder, []

    def slow(work: Path) -> int:
        tries.append(work)
        if len(tries) == 1:
            work.rmdir()  # by the run that had it, just before we ask for the lock
        return real(work)

    monkeypatch.setattr(workspace, "lock_folder", slow)
    write(tmp_path / "out")
    assert len(tries) == 2
    assert (tmp_path / "out/whole").exists()


def test_a_workspace_that_is_gone_already_needs_no_word(tmp_path, capsys):
    with workspace.workspace(tmp_path / "out", tmp_path / "out") as work:
        work.rmdir()
    assert capsys.readouterr() == ("", "")
    assert list(tmp_path.iterdir()) == []
