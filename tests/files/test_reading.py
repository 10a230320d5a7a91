"""The door for files: regular ones only, behind links too, bounded, and without ever waiting."""

import os
import socket
from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.files import reading
from optimizer.files.reading import Kind, NoSuchFileError, file_size, read_file

SMALL = Kind("a note", 10)

posix = pytest.mark.skipif(os.name != "posix", reason="POSIX files")


def test_the_whole_file_is_read_behind_a_link_too(tmp_path: Path) -> None:
    file, link, further = (tmp_path / name for name in ("file", "link", "further"))
    file.write_bytes(b"ten bytes.")
    link.symlink_to(file)
    further.symlink_to(link)
    assert read_file(file, SMALL) == read_file(further, SMALL) == b"ten bytes."


def test_an_empty_file_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    assert read_file(tmp_path / "file", SMALL) == b""


def test_what_is_too_large_is_told_before_it_is_read(tmp_path: Path) -> None:
    file = tmp_path / "file"
    with file.open("wb") as opened:
        opened.truncate(10**12)  # sparse: it takes no room
    with pytest.raises(InputError, match=r"1,000,000,000,000 bytes.* 10 that a note may have"):
        read_file(file, SMALL)


def test_no_such_file(tmp_path: Path) -> None:
    (tmp_path / "dangling").symlink_to("nowhere")
    (tmp_path / "file").touch()
    for path in (tmp_path / "none", tmp_path / "dangling", tmp_path / "file" / "below"):
        with pytest.raises(NoSuchFileError, match="there is no such file"):
            read_file(path, SMALL)


def _pipe(path: Path) -> Path:
    os.mkfifo(path)
    return path


def _socket(path: Path) -> Path:
    with socket.socket(socket.AF_UNIX) as end:
        end.bind(os.path.relpath(path))  # the name of a socket has some 100 letters at most
    return path


def _loop(path: Path) -> Path:
    path.symlink_to(path)
    return path


def _folder(path: Path) -> Path:
    path.mkdir()
    return path


SPECIAL = {
    "is a pipe": _pipe,
    "is a socket": _socket,
    "a link that leads back to itself": _loop,
    "is a folder": _folder,
    "is a device": lambda path: Path("/dev/zero"),
    "has a NUL": lambda path: path / "a\0b",
    "longer than a file name can be": lambda path: path / ("a" * 100_000),
}


@posix
@pytest.mark.parametrize("said", SPECIAL)
def test_anything_else_is_refused(tmp_path: Path, said: str) -> None:
    """Directly, behind a link, and where only the early look is taken."""
    thing = SPECIAL[said](tmp_path / "thing")
    paths = [thing]
    if not said.startswith(("has", "longer")):
        (tmp_path / "link").symlink_to(thing)
        paths.append(tmp_path / "link")
    for path in paths:
        for look in (read_file, file_size):
            with pytest.raises(InputError, match=said):
                look(path, SMALL)


@posix
def test_a_pipe_put_in_place_of_a_file_after_the_first_look(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was opened is looked at again, and the opening waits for nobody."""
    monkeypatch.setattr(reading, "file_size", lambda path, kind: 0)
    with pytest.raises(InputError, match="is a pipe"):
        read_file(_pipe(tmp_path / "pipe"), SMALL)


@posix
@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="no /proc")
def test_a_file_that_grows_is_not_read_for_ever() -> None:
    """The system's own files say that they are empty, and hold something."""
    with pytest.raises(InputError, match="changed while it was read"):
        read_file(Path("/proc/self/status"), SMALL)


def test_what_the_memory_does_not_hold(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Full:
        def read(self, count: int) -> bytes:
            raise MemoryError

    with pytest.raises(InputError, match="has 9 bytes, more than the memory that is free"):
        reading._whole(Full(), 9, tmp_path)  # type: ignore[arg-type]


def test_what_would_have_to_be_waited_for_is_not_taken_for_empty(tmp_path: Path) -> None:
    class NotYet:
        def read(self, count: int) -> None:
            return None

    with pytest.raises(InputError, match="changed while it was read"):
        reading._whole(NotYet(), 0, tmp_path)  # type: ignore[arg-type]


@posix
@pytest.mark.skipif(hasattr(os, "geteuid") and os.geteuid() == 0, reason="root may read all")
def test_a_file_that_may_not_be_read(tmp_path: Path) -> None:
    (tmp_path / "file").touch(mode=0)
    with pytest.raises(InputError, match="can't be read"):
        read_file(tmp_path / "file", SMALL)
