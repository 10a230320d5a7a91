"""Processes that compile the same function at once, for other types: each gets its own code."""

import os
import subprocess
import sys

import pytest

pytest.importorskip("fcntl")

HALF = """\
from numba import njit

@njit(cache=True)
def half(x):
    return x / 2
"""
CALL = "from machine_code import take_turns; take_turns(); from halves import half; "


def started(folder, words):
    path = os.pathsep.join([str(folder), os.path.dirname(__file__)])
    environment = {**os.environ, "PYTHONPATH": path, "NUMBA_CACHE_DIR": str(folder / "code")}
    command = [sys.executable, "-c", CALL + words]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment)


def test_each_finds_its_own_code_and_the_next_compiles_nothing(tmp_path):
    (tmp_path / "halves.py").write_text(HALF)
    at_once = [started(tmp_path, f"print(half({value}))") for value in ("1", "1j")]
    assert [process.communicate()[0].strip() for process in at_once] == ["0.5", "0.5j"]
    words = "print(half(3), half(3j), sum(half.stats.cache_hits.values()), len(half.signatures))"
    assert started(tmp_path, words).communicate()[0].split() == ["1.5", "1.5j", "2", "2"]
