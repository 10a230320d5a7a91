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
    text = toml_bytes(told) if chance.random() < 0.1 else odd_toml(told, chance)
    (desk / "sawn.toml").write_bytes(text)
    reports = NEVER if chance.random() < 0.15 else AT_ONCE
    return Case(CALL, out="after", reports=reports, limits=Limits(cpu_s=60.0))


def drawn(chance: Random) -> dict[str, Any]:
    """A sound file: some of what may be told."""
    whole = chance.choice((SAWN, SAWN, READ))
    kept = {key: value for key, value in whole.items() if chance.random() < 0.5}
    return {"cut": chance.choice((1, 1, 2))} | kept
