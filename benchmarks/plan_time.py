"""How long the demo plan takes, and how much memory, at two scan densities.

The parent stays small (no numpy): on Linux a child's peak memory, as the system accounts it,
starts from its parent's.
"""

import json
import os
import resource
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter
from typing import Any

from benchmarks.tables import ROOT, Table, timed, write_page

DIVISIONS = (22, 76)  # of the demo's icosahedron: 9,680 and, as shipped, 115,520 triangles
COLD_GOAL_S, WARM_GOAL_S, MEMORY_GOAL_GB = 60.0, 20.0, 1.5
STAGES = ("preparation", "search", "sawing and marks", "audit")
ORDER = ROOT / "scans" / "order.toml"
KERFWISE = "from optimizer.cli import main; main()"

INTRO = """\
The demo order (normal effort) on the demo piece, remade at two scan densities. *Command* is
`kerfwise plan` from start to end: Python's start, imports, reading, planning, audit, all files.
*Cold* starts with an empty folder of compiled code, *warm* with a full one. *make_plan* is the
second call in one process, from a rough in memory to an audited plan."""


@dataclass(frozen=True)
class Run:
    """One finished process: wall time, peak of resident memory, what it printed."""

    seconds: float
    peak_gb: float
    printed: str


def run(arguments: list[str], cache: Path) -> Run:
    """Run Python with ``arguments`` and its own folder of compiled code, and wait for it."""
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(cache), "PYTHONPATH": str(ROOT)}
    started = perf_counter()
    with subprocess.Popen(
        [sys.executable, *arguments], env=environment, cwd=ROOT, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        printed = process.stdout.read()
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"{' '.join(arguments)} ended with status {process.returncode}")
    return Run(perf_counter() - started, usage.ru_maxrss * 1024 / 1e9, printed)


def second_plan(rough_path: str) -> dict[str, Any]:
    """Plan twice in this process; the second plan's time, by stage, and its carats."""
    from optimizer import load_order, load_rough, make_plan

    rough, order = load_rough(rough_path), load_order(ORDER)
    make_plan(rough, order)
    plan, seconds = timed(lambda: make_plan(rough, order))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e9
    carat = plan.stones[0].carat
    return {"seconds": seconds, "peak_gb": peak, "carat": carat, "stages": dict(plan.timing_s)}


def measure(divisions: int) -> tuple[list[list[str]], list[str], float]:
    """Rows against the goals, the row of stages, and make_plan's seconds at one density."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        cache = folder / "compiled"
        made = run(["-m", "benchmarks.pieces", name, str(divisions)], cache)
        triangles = f"{int(made.printed):,}"
        rough = str(next(folder.glob("*.toml")))
        plan = ["-c", KERFWISE, "plan", rough, str(ORDER), "--out"]
        cold = run([*plan, str(folder / "cold")], cache)
        warm = run([*plan, str(folder / "warm")], cache)
        again = json.loads(run(["-m", "benchmarks.plan_time", rough], cache).printed)
    rows = [
        _against(triangles, "command, cold", cold.seconds, COLD_GOAL_S, cold.peak_gb),
        _against(triangles, "command, warm", warm.seconds, WARM_GOAL_S, warm.peak_gb),
        _against(triangles, "make_plan, warm", again["seconds"], WARM_GOAL_S, again["peak_gb"]),
    ]
    stages = [f"{again['stages'][stage]:.2f}" for stage in STAGES]
    return rows, [triangles, *stages, f"{again['carat']:.3f}"], again["seconds"]


def _against(triangles: str, what: str, seconds: float, goal: float, peak: float) -> list[str]:
    return [
        triangles,
        what,
        f"{seconds:.1f}",
        f"{seconds / goal:.2f} of {goal:.0f} s",
        f"{peak:.2f}",
        f"{peak / MEMORY_GOAL_GB:.2f} of {MEMORY_GOAL_GB:g} GB",
    ]


def main() -> None:
    """Measure and write the page."""
    measured = [measure(divisions) for divisions in DIVISIONS]
    ratio = measured[1][2] / measured[0][2]
    columns = ("triangles", "what", "wall s", "share of the goal", "peak GB", "share of the goal")
    goals = Table(
        "Against the goals",
        columns,
        [row for rows, _, _ in measured for row in rows],
        f"A share under 1 meets the goal. make_plan takes {ratio:.2f} times as long on the dense "
        f"scan as on the sparse one.",
    )
    stages = Table(
        "Where make_plan spends its time, in seconds",
        ("triangles", *STAGES, "carats found"),
        [row for _, row, _ in measured],
    )
    write_page("plan_time", INTRO, [goals, stages])


if __name__ == "__main__":
    if len(sys.argv) > 1:
        print(json.dumps(second_plan(sys.argv[1])))
    else:
        main()
