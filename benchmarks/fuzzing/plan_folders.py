"""Folders of plans that hands or disks have changed since."""

import json
import os
from pathlib import Path
from random import Random
from typing import Any

from benchmarks.fuzzing.case import AT_ONCE, NEVER, Case, Limits
from benchmarks.fuzzing.desk import lay_box
from benchmarks.fuzzing.odd_bytes import damaged
from benchmarks.fuzzing.odd_values import changed, toml_bytes, written_out
from benchmarks.fuzzing.planned import lay_plan
from benchmarks.fuzzing.sawn_files import CALL, drawn

LIKE = {"plan": "plan/plan.json", "stone": 1, "within_mm": 0.1}


def case(desk: Path, chance: Random) -> Case:
    """``sawn`` on such a folder, or a stone like one of it."""
    folder = lay_plan(desk)
    (desk / "secret.txt").write_text("not to be read or written\n")
    for _ in range(chance.choice((1, 1, 2))):
        chance.choice((_change_document,) * 4 + _TAMPERINGS)(folder, chance)
    reports = NEVER if chance.random() < 0.1 else AT_ONCE
    limits = Limits(cpu_s=60.0)
    if chance.random() < 0.3:
        lay_box(desk)
        order = {"wanted": [{"name": "a", "count": 1, "like": LIKE}]}
        (desk / "order.toml").write_bytes(toml_bytes(order))
        call = ("plan", "rough.toml", "order.toml", "--out", "after", "--effort", "quick")
        return Case(call, out="after", reports=reports, limits=limits)
    (desk / "sawn.toml").write_bytes(toml_bytes(drawn(chance)))
    return Case(CALL, out="after", reports=reports, limits=limits)


def _change_document(folder: Path, chance: Random) -> None:
    """plan.json with odd values in it."""
    path = folder / "plan.json"
    try:
        sound = {} if path.is_symlink() else json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError):  # tampered with before
        return
    document: Any = changed(sound, chance, most=2)
    text = written_out(json.dumps(document))
    path.unlink()
    path.write_bytes(damaged(text, chance) if chance.random() < 0.1 else text)


def _damage(folder: Path, chance: Random) -> None:
    path = _any(folder, chance)
    path.write_bytes(damaged(path.read_bytes(), chance))


def _delete(folder: Path, chance: Random) -> None:
    _any(folder, chance).unlink()


def _swap(folder: Path, chance: Random) -> None:
    """One file takes another's place."""
    _any(folder, chance).write_bytes(_any(folder, chance).read_bytes())


def _put_special(folder: Path, chance: Random) -> None:
    """A link, a folder or a pipe where a file was."""
    path = _any(folder, chance)
    path.unlink()
    kind = chance.choice(("/dev/zero", "../secret.txt", path.name, ".", "folder", "pipe"))
    if kind == "folder":
        path.mkdir()
    elif kind == "pipe":
        os.mkfifo(path)
    else:
        path.symlink_to(kind)


def _any(folder: Path, chance: Random) -> Path:
    """Never a link: what it leads to is not of the plan."""
    real = [path for path in folder.rglob("*") if path.is_file() and not path.is_symlink()]
    return chance.choice(sorted(real))


_TAMPERINGS = (_damage, _damage, _delete, _swap, _put_special)
