"""Caliper readings of every form, changed and damaged."""

import tomllib
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

from benchmarks.fuzzing.case import Case, Limits
from benchmarks.fuzzing.odd_bytes import damaged
from benchmarks.fuzzing.odd_values import changed, nudged, odd_toml, toml_bytes
from benchmarks.tables import ROOT

OUTLINE = "caliper-slab.csv"
OTHERS: tuple[dict[str, Any], ...] = (
    {"form": "crystal", "section": "trigonal", "side_mm": 9.0, "other_side_mm": 3.0,
     "length_mm": 25.0},
    {"form": "crystal", "section": "square", "across_corners_mm": [9.0, 9.2], "length_mm": 25.0,
     "start_end": {"form": "broken", "uneven_mm": 2.0}},
    {"form": "slab", "thickness_mm": 8.0,
     "outline_mm": [[0, 0], [24, 1], [30, 12], [22, 20], [4, 18]]},
)  # fmt: skip


def case(desk: Path, chance: Random) -> Case:
    """``check`` of a piece that was measured, or a plan in it."""
    rough = chance.choice(_sound())
    only_readings = chance.random() < 0.7
    if only_readings:
        change = nudged if chance.random() < 0.5 else changed
        rough = rough | {"measured": change(rough["measured"], chance)}
    text = toml_bytes(rough) if only_readings else odd_toml(rough, chance)
    (desk / "rough.toml").write_bytes(text)
    outline = (ROOT / "scans" / OUTLINE).read_bytes()
    (desk / OUTLINE).write_bytes(damaged(outline, chance) if chance.random() < 0.3 else outline)
    kind = chance.random()
    limits = Limits(cpu_s=30.0)
    if kind < 0.5:
        return Case(("check", "rough.toml"), limits=limits)
    if kind < 0.75:
        return Case(("check", "rough.toml", "--out", "marks"), out="marks", limits=limits)
    call = ("plan", "rough.toml", "--out", "plan", "--effort", "quick")
    return Case(call, out="plan", limits=limits)


@cache
def _sound() -> tuple[dict[str, Any], ...]:
    files = sorted((ROOT / "scans").glob("caliper-*.toml"))
    read = [tomllib.loads(path.read_text(encoding="utf-8")) for path in files]
    return (*read, *({"material": "quartz", "measured": one} for one in OTHERS))
