"""Run benchmarks one after the other, each in a process of its own.

python -m benchmarks [NAME ...]      without a name: all
"""

import subprocess
import sys
from time import perf_counter

NAMES = (
    "plan_time", "platonic", "convex", "scans", "gaps", "real_scans", "against_evolution",
    "growth", "big_scans", "where_time_goes", "fuzz", "ladder", "boundary_map",
    "look", "several", "several_bounds", "divisions", "many_designs",
)  # fmt: skip


def main(names: list[str]) -> int:
    """Run the benchmarks named; 2 where one is not known, 1 where one failed."""
    unknown = sorted(set(names) - set(NAMES))
    if unknown:
        print(f"no benchmark is named {', '.join(unknown)}; known: {', '.join(NAMES)}")
        return 2
    failed = 0
    for name in names or NAMES:
        started = perf_counter()
        failed |= subprocess.run([sys.executable, "-m", f"benchmarks.{name}"]).returncode
        print(f"{name}: {perf_counter() - started:.0f} s", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
