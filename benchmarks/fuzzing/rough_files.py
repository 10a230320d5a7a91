"""Rough files: all that may be told of a piece, changed and damaged."""

from pathlib import Path
from random import Random
from typing import Any

from benchmarks.fuzzing.case import Case, Limits
from benchmarks.fuzzing.desk import ROUGH, lay_box
from benchmarks.fuzzing.odd_values import odd_toml, toml_bytes

COLOURS = {"towards": {"colour": "violet", "srgb": "#7a4fa3"}, "away": {"colour": "yellow"}}
POINTS = [[1.0, -4.0, -3.0], [1.2, 4.0, -3.0], [0.9, 0.0, 4.0], [1.1, 3.0, 3.0], [1.0, -3.0, 2.5]]
BENT = [
    [0.02 * y * y, y, z] for y in (-5.0, -2.5, 0.0, 2.5, 5.0) for z in (-4.0, 0.0, 4.0)
]  # fmt: skip
ZONES: tuple[dict[str, Any], ...] = (
    {"point_mm": [0, 0, 0], "normal": [1, 0, 0.1]},
    {"parallel_to": "base", "depth_mm": 4.0},
    {"points_mm": POINTS},
    {"shape": "band", "point_mm": [0, 0, 0], "normal": [1, 0, 0], "thick_mm": 2.0},
    {"shape": "corner", "planes": [{"parallel_to": "base", "depth_mm": 4.0},
                                   {"point_mm": [0, 0, 0], "normal": [1, 0, 0]}]},
    {"shape": "ball", "centre_mm": [0, 0, 0], "radius_mm": 3.0},
    {"shape": "bent", "points_mm": BENT},
    {"shape": "bent", "point_mm": [0, 0, 0], "normal": [1, 0, 0], "along": [0, 1, 0],
     "bend_per_mm": [0.01, 0.0, 0.02]},
)  # fmt: skip
FLAWS: tuple[dict[str, Any], ...] = (
    {"point_mm": [1.5, -2.0, 1.0], "radius_mm": 0.3, "clearance_mm": 0.2},
    {"from_mm": [0.0, 3.0, 1.0], "to_mm": [0.5, 3.5, 3.0], "allowed": "off the table"},
    {"point_mm": [-4.0, 0.0, 1.0], "normal": [1, 0, 0.2], "across_mm": 6.0},
    {"point_mm": {"base": 2.0, "left": 3.0, "front": 4.0}, "normal": [1, 0, 0]},
    {"point_mm": [0, 0, -5], "window": "base", "apparent_depth_mm": 2.0},
    {"mesh": "flaw.ply", "clearance_mm": 0.1},
)
FACTS: dict[str, Any] = {
    "weighed_error_ct": 0.05, "correct": "scale", "sg_range": [2.64, 2.66],
    "growth_axis": [0, 0, 1], "second_axis": [1, 0, 0], "cleavage": [[0, 0, 1]],
    "form": "boule", "parent": "large piece", "rests_on": [0, 0, -1],
    "mm_per_unit": 1.0, "known_distance": {"between": [[0, 0, 0], [8, 0, 0]], "mm": 8.0},
    "material": "fluorite", "scan_error_mm": 0.2,
}  # fmt: skip


def case(desk: Path, chance: Random) -> Case:
    """``check`` of the box by a changed rough file, or a plan by it."""
    from benchmarks.pieces import shapes
    from optimizer.rough import write_ply

    rough = drawn(chance)
    text = toml_bytes(rough) if chance.random() < 0.2 else odd_toml(rough, chance)
    lay_box(desk, text)
    write_ply(desk / "flaw.ply", shapes().icosphere(1.0, 1))
    return Case(*_call(chance), limits=Limits(cpu_s=30.0))


def _call(chance: Random) -> tuple[tuple[str, ...], str | None]:
    kind = chance.random()
    if kind < 0.5:
        return ("check", "rough.toml"), None
    if kind < 0.7:
        return ("check", "rough.toml", "--out", "marks"), "marks"
    return ("plan", "rough.toml", "--out", "plan", "--effort", "quick"), "plan"


def drawn(chance: Random) -> dict[str, Any]:
    """A rough file of sound shape: some of what may be told."""
    rough = {key: value for key, value in ROUGH.items() if key in ("scan", "material")}
    rough |= {key: value for key, value in ROUGH.items() if chance.random() < 0.5}
    rough |= {key: value for key, value in FACTS.items() if chance.random() < 0.1}
    if chance.random() < 0.6:
        told = chance.sample(ZONES, chance.randint(1, 2))
        rough["zones"] = [{"name": f"zone {k}", **COLOURS, **one} for k, one in enumerate(told)]
    if chance.random() < 0.5:
        seen = chance.sample(FLAWS, chance.randint(1, 3))
        rough["flaws"] = [{"name": f"flaw {k}", **one} for k, one in enumerate(seen)]
    return rough
