"""The command called in this process: what it said, and the folders that it wrote."""

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from optimizer import cli


class Ran(NamedTuple):
    """One run of the command."""

    status: int
    out: str
    err: str


Run = Callable[..., Ran]


def runner(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    """Calls ``kerfwise`` through ``main`` with these arguments."""

    def call(*arguments: object) -> Ran:
        monkeypatch.setattr(sys, "argv", ["kerfwise", *map(str, arguments)])
        with pytest.raises(SystemExit) as left:
            cli.main()
        said = capsys.readouterr()
        return Ran(int(left.value.code or 0), said.out, said.err)

    return call


def refused(ran: Ran, *said: str) -> str:
    """Exactly one line on stderr that says these things, and nothing else; gives the line."""
    assert (ran.status, ran.out) == (cli.BAD_INPUT, "")
    assert ran.err.startswith("kerfwise: ")
    assert ran.err.endswith("\n")
    assert ran.err.count("\n") == 1
    assert "Traceback" not in ran.err
    for part in said:
        assert part in ran.err
    return ran.err.removeprefix("kerfwise: ").rstrip("\n")


def document(folder: Path, name: str = "plan.json") -> dict:
    """What a folder of results says in its JSON file."""
    return json.loads((folder / name).read_text(encoding="utf-8"))


def untimed(folder: Path) -> dict:
    """A plan's document without how long each stage took."""
    return {k: v for k, v in document(folder).items() if k != "timing_s"}


def everything_in(folder: Path) -> dict[str, bytes]:
    """The bytes of every file below a folder; an inner folder has none."""
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else b""
        for path in folder.rglob("*")
    }
