"""Paths to what is no plain file, in every place that takes one; names that are long and odd."""

import os
import socket
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any

from benchmarks.fuzzing.case import Case
from benchmarks.fuzzing.desk import FIXED, ROUGH, lay_box
from benchmarks.fuzzing.odd_values import toml_bytes
from benchmarks.fuzzing.planned import lay_plan

ENDINGS = (".toml", ".ply", ".stl", ".xyz", ".csv", ".json", "")
NAMES = (
    "", " ", ".", "..", "/", "//", "~", "a\nb", "\x1b[31mred", "\udcff", "\u202eder", "💎", "-",
    "a" * 255, "a" * 256, "a" * 5000, "a/" * 3000, "box.ply/", "box.ply/inside", "no-such/file",
    "/dev/zero", "/dev/null", "/dev/full", "/dev/stdin", "/dev/fd/0", "/proc/self/mem",
    "/proc/self/environ", "/proc/self/fd/0", "CON", "%s", "*", "--", "rough.toml\\", "./rough.toml",
)  # fmt: skip
HUGE = 1 << 40  # bytes, of which the disk holds none


def case(desk: Path, chance: Random) -> Case:
    """One odd path in one place."""
    lay_box(desk)
    lay_plan(desk)
    (desk / "order.toml").write_bytes(toml_bytes(FIXED))
    (desk / "sawn.toml").write_bytes(toml_bytes({"cut": 1}))
    if chance.random() < 0.35:
        return chance.choice(_OUTS)(desk, chance)
    if chance.random() < 0.5:
        return _read(_thing(desk, chance), chance)
    return _named(desk, _thing(desk, chance), chance)


def _thing(desk: Path, chance: Random) -> str:
    """Something odd on the desk, or an odd name of nothing; its path."""
    if chance.random() < 0.4:
        return chance.choice(NAMES)
    path = desk / f"thing{chance.choice(ENDINGS)}"
    chance.choice(_THINGS)(path)
    return path.name


def _pipe(path: Path) -> None:
    os.mkfifo(path)


def _socket(path: Path) -> None:
    folder = os.getcwd()
    os.chdir(path.parent)  # a socket's whole path may be no longer than 107 bytes
    with socket.socket(socket.AF_UNIX) as made:
        made.bind(path.name)
    os.chdir(folder)


def _folder(path: Path) -> None:
    path.mkdir()


def _empty(path: Path) -> None:
    path.touch()


def _huge(path: Path) -> None:
    with path.open("wb") as file:
        file.truncate(HUGE)


def _unreadable(path: Path) -> None:
    path.write_text("scan")
    path.chmod(0)


def _link(target: str) -> Callable[[Path], None]:
    def lay(path: Path) -> None:
        path.symlink_to(target)

    return lay


def _loop(path: Path) -> None:
    path.symlink_to("other")
    path.with_name("other").symlink_to(path.name)


def _to_pipe(path: Path) -> None:
    os.mkfifo(path.with_name("pipe"))
    path.symlink_to("pipe")


_THINGS = (
    _pipe, _socket, _folder, _empty, _huge, _unreadable, _loop, _to_pipe, _link("/dev/zero"),
    _link("nowhere"), _link("."), _link("/"), _link("/proc/self/mem"), _link("box.ply"),
)  # fmt: skip


def _read(path: str, chance: Random) -> Case:
    """The path on the command line, where a file or folder is read."""
    out = ("--out", "new")
    call: tuple[str, ...] = chance.choice((
        ("plan", path, *out), ("plan", "rough.toml", path, *out), ("check", path),
        ("check", path, *out), ("sawn", path, "sawn.toml", *out), ("sawn", "plan", path, *out),
        ("look", "oval", "--piece", path),
    ))  # fmt: skip
    return Case(call, out="new" if "--out" in call else None)


def _named(desk: Path, path: str, chance: Random) -> Case:
    """The path in a file that is read."""
    path = chance.choice((path, "a\x00b", "a" * 300 + ".toml")) if chance.random() < 0.1 else path
    path = path.encode("utf-8", "replace").decode()
    flaw = {"name": "cloud", "mesh": path}
    slab = {"form": "slab", "thickness_mm": 8.0, "outline_file": path}
    like = {"name": "a", "count": 1, "like": {"plan": path, "stone": 1, "within_mm": 0.1}}
    key: tuple[str, dict[str, Any]] = chance.choice((
        ("rough.toml", {**ROUGH, "scan": path}), ("rough.toml", {**ROUGH, "flaws": [flaw]}),
        ("rough.toml", {"material": "quartz", "measured": slab}),
        ("rough.toml", {**ROUGH, "parent": path}), ("order.toml", {"design": path}),
        ("order.toml", {"workshop": path}), ("order.toml", {"wanted": [like]}),
    ))  # fmt: skip
    (desk / key[0]).write_bytes(toml_bytes(key[1]))
    return Case(("plan", "rough.toml", "order.toml", "--out", "new"), out="new")


def _call(path: str, chance: Random, *more: str) -> tuple[str, ...]:
    """A command that writes a folder."""
    check = ("check", "rough.toml")
    plan = ("plan", "rough.toml", "order.toml", "--effort", "quick")
    return (*chance.choice((check, check, plan)), "--out", path, *more)


def _out_name(desk: Path, chance: Random) -> Case:
    """An odd name of a folder to be."""
    name = chance.choice([name for name in NAMES if not name.startswith("/")] + ["a/b/c", "new/"])
    odd = not name.strip("/") or Path(name).parts[:1] in ((), ("..",))
    if odd:
        return Case(_call(name, chance), statuses=frozenset({2}))
    return Case(_call(name, chance), out=os.path.normpath(name))


def _out_special(desk: Path, chance: Random) -> Case:
    """Something that is no folder where one is to be written."""
    path = chance.choice((_thing(desk, chance), "box.ply", "/dev/null", "/dev/full", "/proc/new"))
    real = (desk / path).resolve() if "\0" not in path and len(path) < 200 else desk
    inside = real.is_relative_to(desk.resolve()) and real.is_dir() and real != desk.resolve()
    return Case(_call(path, chance), out=str(real.relative_to(desk.resolve())) if inside else None)


def _out_foreign(desk: Path, chance: Random) -> Case:
    """A folder of photos, or the very desk, with --replace: it stays as it is."""
    (desk / "photos").mkdir()
    (desk / "photos" / "holiday.jpg").write_bytes(b"\xff\xd8 not to be lost")
    (desk / "to-photos").symlink_to("photos")
    name = chance.choice(("photos", "photos/", "to-photos", ".", "./", "../desk", "plan/stones"))
    return Case(_call(name, chance, "--replace"), statuses=frozenset({2}))


def _out_of_what_is_read(desk: Path, chance: Random) -> Case:
    """The folder of the scan that the rough file names, with --replace."""
    (desk / "scans").mkdir()
    (desk / "box.ply").rename(desk / "scans" / "box.ply")
    (desk / "rough.toml").write_bytes(toml_bytes({**ROUGH, "scan": "scans/box.ply"}))
    return Case(_call("scans", chance, "--replace"), statuses=frozenset({2}))


def _out_own(desk: Path, chance: Random) -> Case:
    """A folder that the command wrote, with --replace, also through a link."""
    (desk / "to-plan").symlink_to("plan")
    name = chance.choice(("plan", "plan/", "./plan", "to-plan"))
    return Case(_call(name, chance, "--replace"), out="plan")


_OUTS = (_out_name, _out_special, _out_foreign, _out_of_what_is_read, _out_own)
