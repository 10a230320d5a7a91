"""Little memory: one line, and how much is needed."""

import resource
import sys

import pytest

from optimizer import cli, memory
from optimizer.errors import InputError

FREE = resource.RLIM_INFINITY


@pytest.mark.parametrize("most", [FREE, int(memory.LEAST_MB * 1e6)])
def test_enough_is_enough(monkeypatch, most):
    monkeypatch.setattr(resource, "getrlimit", lambda which: (most, FREE))
    memory.refuse_little_memory()


def test_too_little_to_begin_with_is_told(monkeypatch):
    monkeypatch.setattr(resource, "getrlimit", lambda which: (800_000_000, FREE))
    with pytest.raises(InputError, match=r"may take 800 MB .* needs 1,500 MB"):
        memory.refuse_little_memory()


def test_where_memory_runs_out_one_line_says_so(monkeypatch, capsys):
    def fail() -> None:
        raise MemoryError

    monkeypatch.setattr(cli, "refuse_little_memory", fail)
    monkeypatch.setattr(sys, "argv", ["kerfwise", "order"])
    with pytest.raises(SystemExit) as left:
        cli.main()
    said = capsys.readouterr()
    assert (left.value.code, said.out, said.err.count("\n")) == (2, "", 1)
    assert said.err.startswith("kerfwise: memory ran out after ")
