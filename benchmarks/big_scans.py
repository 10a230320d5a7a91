"""How long big scans take to be loaded and checked, and to be planned in, and in how much memory.

Each job is a process of its own, so that its greatest memory is its own.
"""

import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from benchmarks.tables import ROOT, Table, timed, write_page

TRIANGLES = (1_000_000, 5_000_000)
GOAL_S, GOAL_GB = 60.0, 4.0  # to load and check the largest
COLUMNS = ("job", "triangles", "s", "µs a triangle", "GB at most", "share of the goals")

INTRO = f"""\
A lumpy pebble of some 20 mm at the density of a big scan, with scan noise, in a binary PLY file:
loaded and checked as `kerfwise check` does, and the smaller one planned in for one round brilliant
at quick effort.
*Faulty* is the same scan with pinholes, spikes, a crumb and turned triangles. Libraries load within
the time; compiled code is warm. Goals: {GOAL_S:g} s and {GOAL_GB:g} GB (of 10⁹ bytes, resident) to
load and check the largest; the greater of the two shares is given."""


def check(path: Path) -> None:
    """What `kerfwise check` does, without the printing."""
    from optimizer import load_rough
    from optimizer.rough import describe

    describe(load_rough(path, unit="mm"))


def plan(path: Path) -> None:
    """Load the scan and plan one stone in it."""
    from optimizer import load_rough, make_plan
    from optimizer.order import Order

    assert make_plan(
        load_rough(path, unit="mm"), Order(designs=("round-brilliant",)), effort="quick"
    ).stones


CHECKS: dict[str, Callable[[Path], None]] = {"check": check, "check, faulty": check}
JOBS = {**CHECKS, "plan": plan}  # a plan is made in the smaller scan alone: it takes minutes


def measured(job: str, path: Path) -> tuple[float, float]:
    """(seconds, greatest memory in GB) of a job in a process of its own."""
    command = [sys.executable, "-m", "benchmarks.big_scans", job, str(path)]
    run = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True)
    seconds, kilobytes = run.stdout.split()[-2:]
    return float(seconds), float(kilobytes) * 1024.0 / 1e9


def write_scans(folder: Path, triangles: int) -> tuple[Path, Path, int]:
    """(the scan, the faulty one, its triangles)."""
    import numpy as np

    from benchmarks.pieces import dense, shapes
    from optimizer.mesh import Mesh
    from optimizer.rough import write_ply

    made = shapes()
    mesh = dense(made.pebble(3), triangles)
    sound, faulty = folder / "sound.ply", folder / "faulty.ply"
    write_ply(sound, mesh)
    points, faces = mesh.vertices.copy(), mesh.faces.copy()
    points[:: len(points) // 3] *= 1.5  # spikes
    turned = slice(50, len(faces), len(faces) // 100)
    faces[turned] = faces[turned][:, ::-1]
    faces = np.delete(faces, np.arange(500, len(faces), len(faces) // 5), axis=0)  # pinholes
    crumb = made.icosphere(0.5, 2)
    beside = crumb.vertices + np.array([20.0, 0.0, 0.0])
    faces = np.vstack([faces, crumb.faces + len(points)])
    write_ply(faulty, Mesh(np.vstack([points, beside]), faces))
    return sound, faulty, len(mesh.faces)


def main() -> None:
    """Measure every job and write the page."""
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        for number, triangles in enumerate(TRIANGLES):
            sound, faulty, count = write_scans(Path(folder), triangles)
            if not number:
                for job in JOBS:
                    measured(job, faulty)  # compiled code is made
            for job in JOBS if not number else CHECKS:
                seconds, gigabytes = measured(job, faulty if "faulty" in job else sound)
                share = max(seconds / GOAL_S, gigabytes / GOAL_GB)
                goals = f"{share:.2f}" if number else "-"
                rows.append([
                    job, f"{count:,}", f"{seconds:.1f}", f"{1e6 * seconds / count:.1f}",
                    f"{gigabytes:.2f}", goals,
                ])  # fmt: skip
                print(" ".join(rows[-1]), flush=True)
    write_page("big_scans", INTRO, [Table("Big scans", COLUMNS, rows)])


if __name__ == "__main__":
    if len(sys.argv) > 1:
        elapsed = timed(lambda: JOBS[sys.argv[1]](Path(sys.argv[2])))[1]
        print(elapsed, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
    else:
        main()
