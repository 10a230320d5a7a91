"""Hold the plans of this checkout against those of another commit, number by number.

    python -m benchmarks.same_plans write FOLDER        plan the cases and keep their plan.json
    python -m benchmarks.same_plans compare FOLDER      plan them again and name each difference

For changes of the code's shape that must change no plan. Keys, numbers, truth values and words
without a space (names, paths, kinds) must be equal to the last digit; sentences may differ, and so
may times and checksums. ``--effort`` is quick unless said otherwise.
"""

import argparse
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from benchmarks.pieces import SCANS, real_scan
from benchmarks.tables import ROOT
from optimizer import load_order, load_rough, make_plan
from optimizer.order import Order
from optimizer.report import write_plan

DEMO = ROOT / "scans" / "two-colour-quartz.toml"
ORDERS = {"demo": "order.toml", "several": "order-several.toml"}
REAL = ("01_apollo20.stl", "03_quarry_E22.ply", "04_kleopatra.obj")
NOT_COMPARED = ("timing_s", "version", "checksum")


def plan_text(name: str, effort: str) -> str:
    """plan.json of one case."""
    if name in ORDERS:
        rough, order = load_rough(DEMO), load_order(ROOT / "scans" / ORDERS[name])
    else:
        rough, order = real_scan(SCANS / name), Order()
    with TemporaryDirectory() as folder:
        out = Path(folder) / "plan"
        write_plan(make_plan(rough, order, effort=effort), out)
        return (out / "plan.json").read_text(encoding="utf-8")


def values(part: Any, place: str = "") -> Iterator[tuple[str, Any]]:
    """Each value of a document that must not change, with the place where it stands."""
    if isinstance(part, dict):
        yield place, sorted(set(part) - set(NOT_COMPARED))
        for key in part:
            if key not in NOT_COMPARED:
                yield from values(part[key], f"{place}.{key}" if place else key)
    elif isinstance(part, list):
        if not any(isinstance(item, str) and " " in item for item in part):
            yield place, len(part)
        for number, item in enumerate(part):
            yield from values(item, f"{place}[{number}]")
    elif not isinstance(part, str) or " " not in part:
        yield place, part


def differences(before: str, after: str) -> list[str]:
    """One line for each value that two texts of plan.json don't share."""
    old, new = (dict(values(json.loads(text))) for text in (before, after))
    return [
        f"{place}: {old.get(place, 'absent')} -> {new.get(place, 'absent')}"
        for place in sorted(old.keys() | new.keys())
        if repr(old.get(place, "absent")) != repr(new.get(place, "absent"))
    ]


def main(arguments: list[str]) -> int:
    """Write or compare; 1 where a plan differs."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.same_plans")
    parser.add_argument("what", choices=("write", "compare"))
    parser.add_argument("folder", type=Path)
    parser.add_argument("--effort", default="quick")
    parser.add_argument("--case", action="append", choices=(*ORDERS, *REAL))
    asked = parser.parse_args(arguments)
    asked.folder.mkdir(parents=True, exist_ok=True)
    changed = 0
    for name in asked.case or (*ORDERS, *REAL):
        text, kept = plan_text(name, asked.effort), asked.folder / f"{name}.json"
        if asked.what == "write":
            kept.write_text(text, encoding="utf-8")
            print(f"{name}: kept", flush=True)
            continue
        found = differences(kept.read_text(encoding="utf-8"), text)
        changed |= bool(found)
        print(f"{name}: " + (f"{len(found)} differ" if found else "the same"), flush=True)
        print("".join(f"  {line}\n" for line in found[:20]), end="", flush=True)
    return changed


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
