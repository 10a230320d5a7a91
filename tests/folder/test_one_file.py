"""A single file: written where none is yet, whole or not at all."""

from io import FileIO
from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.folder import ask_new, write_new


def test_it_is_written(tmp_path):
    ask_new(tmp_path / "a.png")
    assert list(tmp_path.iterdir()) == []
    write_new(tmp_path / "a.png", b"picture")
    assert (tmp_path / "a.png").read_bytes() == b"picture"


@pytest.mark.parametrize("call", [ask_new, lambda path: write_new(path, b"new")])
def test_nothing_is_overwritten(tmp_path, call):
    taken, link, folder = tmp_path / "a.png", tmp_path / "link.png", tmp_path / "folder"
    taken.write_bytes(b"mine")
    link.symlink_to(tmp_path / "nowhere")
    folder.mkdir()
    for path in (taken, link, folder):
        with pytest.raises(InputError, match="exists already; name another"):
            call(path)
    assert taken.read_bytes() == b"mine"


@pytest.mark.parametrize("name", ["gone/a.png", "x" * 300])
def test_where_it_cant_be_written_one_line_says_so(tmp_path, name):
    with pytest.raises(InputError, match=r"can't be written \(.*\); name another"):
        ask_new(tmp_path / name)


def test_nothing_half_written_is_left(tmp_path, monkeypatch):
    class Full(FileIO):
        def write(self, data: bytes) -> int:
            super().write(data[:1])
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "open", lambda path, mode: Full(path, mode))
    with pytest.raises(InputError, match="No space left"):
        write_new(tmp_path / "a.png", b"picture")
    assert list(tmp_path.iterdir()) == []
