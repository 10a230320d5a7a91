"""Where and how the program is started: no home, no working folder, odd locales, closed streams."""

import os
import resource
from collections.abc import Callable
from pathlib import Path
from random import Random

from benchmarks.fuzzing.case import Case, Limits
from benchmarks.fuzzing.desk import FIXED, ROUGH, lay_box
from benchmarks.fuzzing.odd_values import toml_bytes

COMPILING = Limits(cpu_s=200.0)  # where no machine code is kept, all of it is made anew
VARIABLES: dict[str, tuple[str | None, ...]] = {
    "HOME": (None, "", "/nowhere", "../home", "box.ply"),
    "XDG_CACHE_HOME": ("/nowhere", "box.ply", ""),
    "NUMBA_CACHE_DIR": ("/proc/nowhere", "box.ply", "../caches"),
    "TMPDIR": ("/nowhere", "box.ply", ""),
    "LANG": ("C", "tr_TR.UTF-8", "no_SUCH", None),
    "LC_ALL": ("C", "POSIX", "de_DE.ISO-8859-1", ""),
    "PYTHONUTF8": ("0", "1"),
    "PYTHONIOENCODING": ("ascii", "ascii:strict"),
    "TERM": ("", "dumb", "xterm-256color", None),
    "COLUMNS": ("0", "1", "-5", "many"),
    "FORCE_COLOR": ("1",),
    "NO_COLOR": ("1",),
    "OMP_NUM_THREADS": ("0", "1", "-1", "many"),
    "PATH": (None, ""),
    "USER": (None, ""),
    "TZ": ("no/such",),
}
NAMES = ("Fundstück 紫 💎", "plain")


def case(desk: Path, chance: Random) -> Case:
    """A sound command of its own process in odd surroundings."""
    rough = {
        **ROUGH,
        "reference_faces": [{**ROUGH["reference_faces"][0], "name": chance.choice(NAMES)}],
    }
    lay_box(desk, toml_bytes(rough))
    (desk.parent / "home").mkdir(exist_ok=True)
    (desk / "order.toml").write_bytes(toml_bytes({**FIXED, "workshop": {"most_cuts": 1}}))
    names = chance.sample(list(VARIABLES), chance.randint(0, 3))
    prepare, mute = chance.choice(_PREPARED)(desk, chance)
    call, out = _call(desk, chance)
    return Case(
        call, out, start="small", environment={n: chance.choice(VARIABLES[n]) for n in names},
        prepare=prepare, mute=mute, statuses=frozenset({0, 2, 3}), limits=COMPILING,
    )  # fmt: skip


def _call(desk: Path, chance: Random) -> tuple[tuple[str, ...], str | None]:
    """Paths from the root, since the working folder may be gone."""
    rough, order, out = (str(desk / name) for name in ("rough.toml", "order.toml", "new"))
    plan = ("plan", rough, order, "--effort", "quick", "--out", out)
    return chance.choice((
        (("check", rough), None), (("check", rough, "--out", out), "new"), (plan, "new"),
        (("designs",), None), (("designs", "oval"), None), (("order",), None), (("--help",), None),
    ))  # fmt: skip


def _nothing(desk: Path, chance: Random) -> tuple[Callable[[], None] | None, bool]:
    return None, False


def _closed(desk: Path, chance: Random) -> tuple[Callable[[], None], bool]:
    """Some of the three streams."""
    streams = chance.choice(((0,), (1,), (2,), (0, 1), (1, 2), (0, 1, 2)))

    def prepare() -> None:
        for stream in streams:
            os.close(stream)

    return prepare, 2 in streams


def _nowhere(desk: Path, chance: Random) -> tuple[Callable[[], None], bool]:
    """In a working folder that is gone."""

    def prepare() -> None:
        os.mkdir("gone")
        os.chdir("gone")
        os.rmdir("../gone")

    return prepare, False


def _masked(desk: Path, chance: Random) -> tuple[Callable[[], None], bool]:
    mask = chance.choice((0, 0o077, 0o777))
    return lambda: os.umask(mask) and None, False


def _few_files(desk: Path, chance: Random) -> tuple[Callable[[], None], bool]:
    most = chance.choice((8, 16, 32, 64))
    return lambda: resource.setrlimit(resource.RLIMIT_NOFILE, (most, most)), False


_PREPARED = (_nothing, _nothing, _closed, _nowhere, _masked, _few_files)
