"""The fuzz: what must hold is noticed where it doesn't, and some of its cases hold."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from benchmarks.fuzzing.case import Case, Limits, Outcome
from benchmarks.fuzzing.desk import seen
from benchmarks.fuzzing.session import lay
from benchmarks.fuzzing.verdict import faults

HOME = Path(__file__).parents[1]
CASES = (  # the same few each time, to see that each subject still runs: the hour looks for more
    *("scans:12", "orders:1", "rough-files:3", "calipers:3", "sawn-files:1", "plan-folders:1"),
    *("meshes:2", "paths:3", "arguments:3", "signals:1", "little-memory:1", "full-disk:1"),
    "surroundings:1",
)
LINE = b"kerfwise: piece.stl: is empty; scan the piece again\n"

pytestmark = pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="Linux alone")


@pytest.fixture
def desk(tmp_path: Path) -> Path:
    (tmp_path / "piece.stl").touch()
    (tmp_path / "old").mkdir()
    return tmp_path


def wrong(desk: Path, status: int = 2, told: bytes = LINE, said: bytes = b"", **how: float) -> str:
    """The first fault of a run of ``check``, "" where there is none."""
    case = Case(("check", "piece.stl", "--out", "new"), out="new", limits=Limits(10.0, 100.0))
    outcome = Outcome(status, said, told, **{"cpu_s": 0.1, "memory_mb": 1.0, **how})
    return next(iter(faults(case, outcome, seen(desk), desk)), "")


def test_one_line_of_refusal_is_as_it_should_be(desk: Path) -> None:
    assert wrong(desk) == ""


@pytest.mark.parametrize(
    ("told", "fault"),
    [
        (b"", "0 lines"),
        (LINE * 2, "2 lines"),
        (LINE.strip(), "does not end with a line end"),
        (b"RuntimeWarning: divide by zero\n", "not the program's own"),
        (b"kerfwise: \x1b[31m is no file\n", "control character"),
        (b"kerfwise: \xff is no file\n", "control character"),
        (b"kerfwise: " + b"a" * 1000 + b"\n", "1010 letters"),
        (b"Traceback (most recent call last):\nKeyError: 1\n", "traceback: KeyError: 1"),
    ],
)
def test_what_it_says_is_judged(desk: Path, told: bytes, fault: str) -> None:
    assert fault in wrong(desk, told=told)


@pytest.mark.parametrize(
    ("how", "fault"),
    [
        ({"status": 1}, "exit status 1"),
        ({"status": -signal.SIGSEGV}, "exit status -11"),
        ({"still": True}, "hangs"),
        ({"status": -signal.SIGXCPU, "cpu_s": 11.0}, "more than 10 s"),
        ({"memory_mb": 500.0}, "more than 100 MB"),
        ({"said": b"a table\n"}, "stdout"),
        ({"status": 0, "told": b""}, "no folder"),
    ],
)
def test_how_it_ends_is_judged(desk: Path, how: dict[str, float], fault: str) -> None:
    assert fault in wrong(desk, **how)


def test_what_it_touches_is_judged(desk: Path) -> None:
    case, outcome = Case(("check", "piece.stl")), Outcome(2, b"", LINE, 0.1, 1.0)
    before = seen(desk)
    (desk / "piece.stl").write_bytes(b"solid")
    (desk / "old").rmdir()
    (desk / "left").touch()
    found = faults(case, outcome, before, desk)
    assert found == ["deleted 'old'", "left behind 'left'", "changed 'piece.stl'"]


@pytest.mark.parametrize("subject", ["scans", "orders", "meshes"])
def test_a_case_is_laid_again_as_it_was(subject: str, tmp_path: Path) -> None:
    one, other = (lay(subject, 1, 2, tmp_path / name) for name in ("one", "other"))
    assert one == other
    first, second = (
        {n: what[3:] for n, what in seen(tmp_path / d).items()} for d in ("one", "other")
    )
    assert first == second


def test_no_case_fails() -> None:
    environment = {**os.environ, "PYTHONPATH": str(HOME)}
    command = (sys.executable, "-m", "benchmarks.fuzz", *CASES)
    ran = subprocess.run(command, cwd=HOME, env=environment, capture_output=True, text=True)
    assert ran.returncode == 0, ran.stdout + ran.stderr
