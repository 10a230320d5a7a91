"""Where no folder can be used, kernels are compiled in memory, and one line says so."""

import io
import os
import sys
from pathlib import Path

import pytest

from optimizer.compiled import compiled
from optimizer.compiled.store import Store, sweep


def half(value: object) -> tuple[object, int]:
    """The answer of a kernel made anew, and how often it found machine code."""

    @compiled
    def half(x):
        return x / 2

    return half(value), sum(half.stats.cache_hits.values())


def no_home(folder, monkeypatch):
    def lost() -> Path:
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.delenv("NUMBA_CACHE_DIR")
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    monkeypatch.setattr(Path, "home", lost)


def a_file_in_its_place(folder, monkeypatch):
    folder.parent.write_text("")


def others_may_write(folder, monkeypatch):
    folder.mkdir(parents=True)
    folder.chmod(0o777)


def of_another_user(folder, monkeypatch):
    folder.mkdir(parents=True)
    monkeypatch.setattr("optimizer.compiled.store.TRUSTED", ())
    monkeypatch.setattr(os, "geteuid", lambda: folder.stat().st_uid + 1)


def full_disk(folder, monkeypatch):
    def full(*arguments: object, **more: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)


@pytest.mark.skipif(os.name != "posix", reason="owners and modes as POSIX has them")
@pytest.mark.parametrize(
    "trouble", [no_home, a_file_in_its_place, others_may_write, of_another_user, full_disk]
)
def test_without_a_folder_it_compiles_in_memory_and_says_so_once(
    trouble, folder, monkeypatch, capfd
):
    trouble(folder, monkeypatch)
    assert [half(value) for value in (3, 3.0)] == [(1.5, 0), (1.5, 0)]
    (line,) = capfd.readouterr().err.splitlines()
    assert "can't be kept" in line
    assert "NUMBA_CACHE_DIR" in line
    assert not folder.is_dir() or not list(folder.iterdir())


def test_nobody_need_listen(folder, monkeypatch):
    a_file_in_its_place(folder, monkeypatch)
    closed = io.StringIO()
    closed.close()
    monkeypatch.setattr(sys, "stderr", closed)
    assert half(3) == (1.5, 0)


@pytest.mark.parametrize(
    "harmed", [lambda whole: b"", lambda whole: whole[:-1], lambda whole: b"?"]
)
def test_a_damaged_entry_is_compiled_anew_and_mended(harmed, folder, capfd):
    half(3)
    (entry,) = folder.iterdir()
    entry.write_bytes(harmed(entry.read_bytes()))
    assert half(3) == (1.5, 0)
    assert half(3) == (1.5, 1)
    assert capfd.readouterr().err == ""


def test_a_folder_that_can_only_be_read_still_serves(folder, monkeypatch, capfd):
    half(3)
    full_disk(folder, monkeypatch)
    assert half(3.0) == (1.5, 0)
    assert half(3) == (1.5, 1)
    assert len(capfd.readouterr().err.splitlines()) == 1


def test_what_was_used_the_longest_ago_is_swept_first(folder):
    kept = Store()
    for age, name in enumerate("abc"):
        kept.write(name, b"x" * 68)  # a hundred bytes with its checksum
        os.utime(folder / name, (1000 + age, 1000 + age))
    kept.read("a")
    sweep(folder, 250)
    assert sorted(path.name for path in folder.iterdir()) == ["a", "c"]
