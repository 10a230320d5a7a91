"""Machine code is kept for the next run, and never run for other sources than its own."""

import os
import subprocess
import sys
from importlib import import_module, invalidate_caches
from pathlib import Path

import optimizer

PACKAGE = Path(optimizer.__file__).parent
BOUND = """\
from optimizer.compiled import compiled

@compiled
def bound(x):
    return x + {margin}
"""
PROOF = """\
from optimizer.compiled import compiled
from bound import bound

@compiled
def proof(x):
    return 2 * bound(x)
"""


def started(home: Path, words: str) -> subprocess.Popen:
    """A process that finds the modules of ``home`` and writes no bytecode."""
    path = os.pathsep.join([str(home), str(PACKAGE.parent)])
    command = [sys.executable, "-B", "-c", words]
    environment = os.environ | {"PYTHONPATH": path}
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment)


def printed(process: subprocess.Popen) -> str:
    return process.communicate()[0].strip()


def here(home: Path, monkeypatch, name: str) -> object:
    """The kernel of this name, its modules read anew by this process."""
    for module in ("bound", "proof"):
        monkeypatch.delitem(sys.modules, module, raising=False)
    monkeypatch.setattr(sys, "dont_write_bytecode", True)
    monkeypatch.syspath_prepend(home)
    invalidate_caches()
    return getattr(import_module(name), name)


def found(kernel: object) -> int:
    """How often a kernel found its machine code."""
    return sum(kernel.stats.cache_hits.values())


def test_a_kernel_is_made_anew_when_one_that_it_calls_has_changed(tmp_path, folder, monkeypatch):
    (tmp_path / "proof.py").write_text(PROOF)
    (tmp_path / "bound.py").write_text(BOUND.format(margin="1.0"))
    first = started(tmp_path, "from proof import proof; print(proof(1.5))")
    assert printed(first) == "5.0"
    unchanged = here(tmp_path, monkeypatch, "proof")
    assert (unchanged(1.5), found(unchanged)) == (5.0, 1)
    (tmp_path / "bound.py").write_text(BOUND.format(margin="2.0"))
    changed = here(tmp_path, monkeypatch, "proof")
    assert (changed(1.5), found(changed)) == (7.0, 0)


def test_processes_that_compile_at_once_each_find_their_own_code(tmp_path, folder, monkeypatch):
    (tmp_path / "bound.py").write_text(BOUND.format(margin="1"))
    words = "from bound import bound; print(bound({}))"
    at_once = [started(tmp_path, words.format(value)) for value in ("1", "1j")]
    assert [printed(process) for process in at_once] == ["2", "(1+1j)"]
    kernel = here(tmp_path, monkeypatch, "bound")
    assert (kernel(3), kernel(3j), found(kernel)) == (4, 1 + 3j, 2)


def test_only_this_door_leads_to_numba_and_kernels_stand_in_their_rooms():
    texts = {path: path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.py")}
    others = {path: text for path, text in texts.items() if path.parent.name != "compiled"}
    assert [path for path, text in others.items() if "import numba" in text] == []
    assert [path for path, text in others.items() if "from numba" in text] == []
    compiled = {path for path, text in others.items() if "\n@compiled" in text}
    assert {path.parent.name for path in compiled} == {"kernels"}
