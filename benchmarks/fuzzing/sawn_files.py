"""Files that tell of a real cut, changed and damaged."""

from pathlib import Path
from random import Random
from typing import Any

from benchmarks.fuzzing.case import AT_ONCE, NEVER, Case, Limits
from benchmarks.fuzzing.odd_values import odd_toml, toml_bytes
from benchmarks.fuzzing.planned import as_planned, lay_plan

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
        return {"cut": 2}
    told = {key: value for key, value in as_planned().items() if chance.random() < 0.5}
    told.pop(chance.choice(("moved", "distances_mm")), None)  # both say where it lies
    if "distances_mm" in told:
        read = list(told["distances_mm"].items())
        told["distances_mm"] = dict(chance.sample(read, min(3, len(read))))
    if "weights_ct" not in told:
        told.pop("weights_error_ct", None)
    return {"cut": 1} | told
