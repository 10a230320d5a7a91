"""Design files of the user's own: those of the library, changed and damaged."""

import tomllib
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

from benchmarks.fuzzing.case import AT_ONCE, NEVER, Case, Limits
from benchmarks.fuzzing.desk import lay_box
from benchmarks.fuzzing.odd_values import odd_toml, toml_bytes
from benchmarks.tables import ROOT


def case(desk: Path, chance: Random) -> Case:
    """``plan`` of the box by an order that names such a file."""
    lay_box(desk)
    (desk / "own.toml").write_bytes(odd_toml(chance.choice(_library()), chance))
    order: dict[str, Any] = {"design": "own.toml"}
    if chance.random() < 0.2:
        order["parameters"] = {"crown": chance.choice((35, [30, 40])), "table": 0.55}
    (desk / "order.toml").write_bytes(toml_bytes(order))
    call = ("plan", "rough.toml", "order.toml", "--out", "plan", "--effort", "quick")
    reports = NEVER if chance.random() < 0.1 else AT_ONCE
    return Case(call, "plan", reports=reports, limits=Limits(cpu_s=60.0))


@cache
def _library() -> tuple[dict[str, Any], ...]:
    paths = sorted((ROOT / "designs").glob("*.toml"))
    return tuple(tomllib.loads(path.read_text(encoding="utf-8")) for path in paths)
