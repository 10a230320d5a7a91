"""Too little memory is told in a line, before the work where its need is known."""

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest
import scan_writers
import shapes
from command import Run, refused

from optimizer.errors import InputError
from optimizer.rough.formats.scan_size import least_triangles
from optimizer.running import memory
from optimizer.running.memory import (
    lacks_memory,
    ran_out,
    refuse_large_cloud,
    refuse_large_photo,
    refuse_no_start,
    refuse_too_large,
    refuse_too_many,
)

GB = 10**9


@pytest.fixture
def free(monkeypatch: pytest.MonkeyPatch):
    """Puts so much memory and so many addresses at the program's disposal."""

    def leave(available: float, addresses: float = float("inf")) -> None:
        held = {"VmRSS": 0.1 * GB, "VmSize": 0.3 * GB}
        monkeypatch.setattr(memory, "_status", held.__getitem__)
        monkeypatch.setattr(memory, "_meminfo", lambda: available)
        monkeypatch.setattr(memory, "_container_limits", list)
        monkeypatch.setattr(memory, "_address_limit", lambda: addresses)

    return leave


def test_what_the_memory_holds_is_let_through(free) -> None:
    free(1.0 * GB)
    refuse_no_start()
    refuse_too_many(1_000_000, "a.stl")
    refuse_too_many(200_000, "a.stl", plan=True)
    refuse_too_large(250_000_000, "a.stl")


def test_too_many_triangles_are_told_what_they_need(free) -> None:
    free(1.0 * GB)
    with pytest.raises(InputError) as error:
        refuse_too_many(10_000_000, "a.stl")
    assert str(error.value) == (
        "a.stl: 10,000,000 triangles need some 6.7 GB of memory, and there is 1.1 GB; close other "
        "programs, or save the scan with fewer triangles"
    )
    with pytest.raises(InputError, match=r"1,000,000 triangles need some 3\.7 GB of memory"):
        refuse_too_many(1_000_000, "a.stl", plan=True)
    with pytest.raises(InputError, match=r"to read its 4,000,000,000 bytes needs some 12 GB"):
        refuse_too_large(4 * GB, "a.stl")


def test_clouds_and_photos_are_told_what_they_need(free) -> None:
    free(1.0 * GB)
    refuse_large_cloud(150_000, "a.xyz")
    refuse_large_photo(20_000_000, "a.jpg")
    with pytest.raises(InputError) as error:
        refuse_large_cloud(2_000_000, "a.xyz")
    assert str(error.value) == (
        "a.xyz: a surface through 2,000,000 points needs some 11 GB of memory, and there is "
        "1.1 GB; close other programs, or thin the cloud evenly"
    )
    with pytest.raises(InputError, match=r"100,000,000 dots need some 3\.4 GB.*photo smaller"):
        refuse_large_photo(100_000_000, "a.jpg")


def test_a_limit_of_addresses_is_told_what_it_must_be(free) -> None:
    free(9.0 * GB, 0.9 * GB)
    refuse_no_start()
    with pytest.raises(InputError, match=r"some 2\.5 GB, and its limit \(ulimit -v\) is 900 MB"):
        refuse_too_many(400_000, "a.stl", plan=True)


def test_a_container_has_a_limit_of_its_own(free, monkeypatch: pytest.MonkeyPatch) -> None:
    free(9.0 * GB)
    monkeypatch.setattr(memory, "_container_limits", lambda: [0.1 * GB])
    with pytest.raises(InputError, match="the program needs some 200 MB of memory, and there is"):
        refuse_no_start()


def test_this_system_is_asked() -> None:
    """Whatever system this is, it lets the tests run."""
    refuse_no_start()
    refuse_too_many(1, "a.stl")
    if Path("/proc/self/status").exists():
        assert 10**7 < memory._status("VmRSS") < memory._status("VmSize")
        assert memory._meminfo() > 10**7


@pytest.mark.parametrize(
    ("error", "lacks"),
    [
        (MemoryError(), True),
        (OSError(errno.ENOMEM, "Cannot allocate memory"), True),
        (RuntimeError("can't start new thread"), True),
        (ImportError("libx.so: failed to map segment from shared object"), True),
        (OSError(errno.ENOENT, "No such file"), False),
        (ValueError("can't start new thread"), False),
    ],
)
def test_errors_that_come_of_too_little_memory(error: Exception, lacks: bool) -> None:
    assert lacks_memory(error) is lacks


def test_what_numpy_asked_for_is_told() -> None:
    said = ran_out(MemoryError("Unable to allocate 28.1 MiB for an array with shape (9, 9)"))
    assert "when 28.1 MiB more was asked for" in said
    assert "when more was asked for" in ran_out(MemoryError())


BOX = shapes.box()
WRITTEN = {
    "a.stl": scan_writers.binary_stl(BOX),
    "b.stl": scan_writers.ascii_stl(BOX),
    "a.ply": scan_writers.ply(BOX, "binary_little_endian"),
    "b.ply": scan_writers.ply(BOX, "ascii"),
    "a.off": scan_writers.off(BOX),
    "a.obj": scan_writers.obj(BOX),
    "a.glb": scan_writers.glb(BOX),
    "a.3mf": scan_writers.threemf(BOX),
    "a.xyz": b"1 2 3\n",
    "lying.ply": b"ply\nelement face 999999999999999\n",
}


@pytest.mark.parametrize("name", WRITTEN)
def test_the_least_of_triangles_by_the_file(tmp_path: Path, name: str) -> None:
    """Exact where the head tells, and never more than the file can hold."""
    (tmp_path / name).write_bytes(WRITTEN[name])
    known = {"a.stl": 12, "a.ply": 12, "b.ply": 12, "a.off": 12, "a.xyz": 0, "lying.ply": 8}
    found = least_triangles(tmp_path / name)
    assert found == known[name] if name in known else 0 < found <= 12


@pytest.mark.skipif(sys.platform != "linux", reason="a limit of Linux")
def test_the_command_under_a_limit_is_one_line(tmp_path: Path) -> None:
    """In so little space libraries break in ways of their own, some by a signal."""
    call = f"ulimit -v 300000; exec {sys.executable} -m optimizer check none.stl"
    done = subprocess.run(
        ["bash", "-c", call], capture_output=True, text=True, check=False, cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(Path(memory.__file__).parent.parent)},
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr.startswith("kerfwise: the program needs an address space of some 600 MB")
    assert done.stderr.count("\n") == 1


def test_memory_that_runs_out_is_one_line(monkeypatch: pytest.MonkeyPatch, run: Run) -> None:
    from optimizer.rough import load

    def full(*_: object, **__: object) -> None:
        raise MemoryError

    monkeypatch.setattr(load, "read_facts", full)
    assert refused(run("check", "none.stl")).startswith("memory ran out after ")
