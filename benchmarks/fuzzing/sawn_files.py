"""Files that tell of a real cut, changed and damaged."""

from pathlib import Path
from random import Random
from typing import Any

from benchmarks.fuzzing.case import AT_ONCE, NEVER, Case, Limits
from benchmarks.fuzzing.odd_values import odd_toml, toml_bytes
from benchmarks.fuzzing.planned import READ, SAWN, lay_plan

CALL = ("sawn", "plan", "sawn.toml", "--out", "after")


def case(desk: Path, chance: Random) -> Case:
    """``sawn`` by a changed file on a sound plan."""
    lay_plan(desk)
    told = drawn(chance)
    text = toml_bytes(told) if chance.random() < 0.3 else odd_toml(told, chance)
    (desk / "sawn.toml").write_bytes(text)
    reports = NEVER if chance.random() < 0.15 else AT_ONCE
    return Case(CALL, out="after", reports=reports, limits=Limits(cpu_s=60.0))


def drawn(chance: Random) -> dict[str, Any]:
    """A sound file: some of what may be told."""
    if chance.random() < 0.1:
        return {"cut": 2, "moved": {"by_mm": 0.1, "into_piece": 3}}
    if chance.random() < 0.3:
        return READ
    told = {key: value for key, value in SAWN.items() if key == "cut" or chance.random() < 0.5}
    if "weights_ct" not in told:
        told.pop("weights_error_ct", None)
    return told
