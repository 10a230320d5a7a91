"""How the work spreads over the machine's cores.

python -m benchmarks.cores [QUICK]    with a word: small pieces, to try it
"""

import os
import sys
from collections.abc import Callable
from time import process_time
from typing import Any

from benchmarks.pairs import SKIN_MM
from benchmarks.pieces import dense, shapes
from benchmarks.stones import found, offer_of
from benchmarks.tables import Table, timed, write_page
from optimizer import load_order, load_rough, make_plan
from optimizer.mesh import Mesh
from optimizer.offers.width_bound import width_bound
from optimizer.optics.colouring import CLEAR_TINT, one_colour
from optimizer.optics.lights import light_named
from optimizer.optics.look import CutStone
from optimizer.optics.picture import face_picture
from optimizer.placement.search import QUIET
from optimizer.running.workers import SETTING, usable_cores
from optimizer.trade.materials import load_material

TRIANGLES = 200_000
DESIGN = "round-brilliant"
CELLS = 4000  # of rotations, for the bound
ROUGH, ORDER, SEVERAL = (
    f"scans/{name}" for name in ("two-colour-quartz.toml", "order.toml", "order-several.toml")
)

INTRO = f"""\
The same work with 1, 2, 4, ... workers, compiled code warm, as ratios to one worker in the same
run. *Search* and *bound*: one {DESIGN} in pieces of {TRIANGLES:,} triangles, normal effort. *Demo
plan* is `make_plan` of the demo, *several* that of its order for several stones, both at quick
effort. *Serial share* is Amdahl's s in 1/(s + (1 − s)/n), from the time with the most workers n.
The last column says whether the result is the same to the last digit whatever their number."""


def jobs(triangles: int) -> dict[str, Callable[[], float]]:
    """What is timed, by name; each returns a figure that must not depend on the workers."""
    made: Any = shapes()
    pebble: Mesh = dense(made.pebble(3, 10.0, 3), triangles)
    dented: Mesh = dense(made.dented(5, 10.0), triangles)
    offer, rough = offer_of(DESIGN, SKIN_MM), load_rough(ROUGH)
    ground = found(pebble, offer, "quick").ground
    quartz = load_material("quartz")

    def bound() -> float:
        return width_bound(
            ground, offer, found=0.0, cells=CELLS, gap=0.0, hollows=True, watch=QUIET
        )

    def picture() -> float:
        cut = CutStone(offer.want.body, 10.0, quartz)
        return float(face_picture(cut, one_colour(CLEAR_TINT), light_named("clouded sky")).mean())

    return {
        "search, pebble": lambda: found(pebble, offer).width_mm,
        "search, dented": lambda: found(dented, offer).width_mm,
        "bound": bound,
        "look": picture,
        "demo plan": lambda: make_plan(rough, load_order(ORDER), effort="quick").stones[0].carat,
        "several": lambda: sum(
            stone.carat for stone in make_plan(rough, load_order(SEVERAL), effort="quick").stones
        ),
    }


def measure(job: Callable[[], float], counts: list[int]) -> tuple[list[float], float, set[float]]:
    """Wall seconds for each number of workers, processor seconds with one, and the results."""
    job()  # compiles
    seconds, results, processor = [], set(), 0.0
    for count in counts:
        os.environ[SETTING] = str(count)
        before = process_time()
        result, took = timed(job)
        processor = processor or process_time() - before
        seconds.append(took)
        results.add(result)
    return seconds, processor, results


def main() -> None:
    """Measure all, and write the page."""
    cores = usable_cores()
    counts = [n for n in (1, 2, 4, 8, 16, 32) if n <= cores]
    rows = []
    for name, job in jobs(20_000 if sys.argv[1:] else TRIANGLES).items():
        seconds, processor, results = measure(job, counts)
        gains = [seconds[0] / one for one in seconds]
        most = counts[-1]
        serial = (most / gains[-1] - 1.0) / (most - 1.0) if most > 1 else float("nan")
        same = "yes" if len(results) == 1 else "NO"
        row = [name, f"{seconds[0]:.1f}", f"{processor:.1f}", *(f"{g:.2f}" for g in gains[1:])]
        rows.append([*row, f"{100.0 * serial:.0f}", same])
        print("  ".join(rows[-1]), flush=True)
    gained = [f"{n} workers" for n in counts[1:]]
    heads = ["work", "one worker, s", "of which processor, s", *gained]
    table = Table("Times faster", [*heads, "serial share, %", "same result"], rows)
    if not sys.argv[1:]:
        write_page("cores", INTRO, [table])


if __name__ == "__main__":
    main()
