"""Several stones from one piece: against largest first, and how long it takes.

Largest first lays the stone of most worth, then the most that still can be sawn off, and so on, by
the project's own placement, and then searches each anew between its cuts, at the same effort and
under the same demands. It is what the search itself begins with.
"""

import sys
from collections.abc import Callable
from dataclasses import dataclass
from statistics import mean

from benchmarks.pieces import dense, dense_pieces, shapes
from benchmarks.tables import Table, timed, write_page
from optimizer.mesh import Mesh, volume
from optimizer.order import Order, SizeDemand
from optimizer.order.several import Several
from optimizer.placement.ground import Ground
from optimizer.placement.search import QUIET
from optimizer.rough.flats.find import with_flats
from optimizer.rough.model import Rough
from optimizer.several.cell_search import search_cells
from optimizer.several.divide import divide
from optimizer.several.division_budget import BUDGETS
from optimizer.several.greedy import greedy
from optimizer.several.initial_shapes import with_initial_shapes
from optimizer.several.instance import Instance, Search
from optimizer.several.pool import pose_grids
from optimizer.several.wishes import wishes
from optimizer.several.worth import Worth
from optimizer.trade.materials import load_material

MOST, LEAST_MM, EFFORT, SEED = 8, 3.0, "normal", 0
GOAL_PERCENT, GOAL_S, MANY, MANY_GOAL_S = 8.0, 60.0, 40, 300.0

INTRO = """\
Up to 8 stones of any design of the library, 3 mm wide or more, as many carats as can be, normal
effort, in pieces of about 200,000 triangles. *Search* is from a rough in memory to stones and
cuts; the saw plan, marks, looks and audit come on top (see *plan*). *Gain*: carats more than
largest first."""


@dataclass(frozen=True)
class Row:
    """One piece."""

    name: str
    triangles: int
    rough_carat: float
    first_carat: float
    first_stones: int
    carat: float
    stones: int
    seconds: float

    @property
    def gain(self) -> float:
        """Percent more than largest first."""
        return 100.0 * (self.carat / self.first_carat - 1.0)


def rough_of(name: str, mesh: Mesh) -> Rough:
    """A piece of quartz, scanned within 0.05 mm."""
    return with_flats(
        Rough(
            scan=name, mesh=mesh, mm_per_unit=1.0, watertight_as_read=True, repairs=(),
            warnings=(), material=load_material("quartz"), weighed_ct=None, scan_error_mm=0.05,
            zones=(), reference_faces=(), optic_axis=None, volume_mm3=volume(mesh),
        )
    )  # fmt: skip


def search_of(rough: Rough, most: int) -> Search:
    """The search, all made ready."""
    order = Order(size=SizeDemand(width_mm=(LEAST_MM, 1000.0)), several=Several(most=most))
    ground = Ground.of(rough.mesh)
    wanted = with_initial_shapes(ground, wishes(rough, order)[0], SEED, QUIET)
    instance = Instance(ground, wanted, Worth(), rough.material.sg, order.workshop)
    return Search(rough, instance, most, EFFORT, SEED, QUIET)


def largest_first(search: Search) -> tuple[float, int]:
    """Carats and stones."""
    instance = search.instance
    grids = pose_grids(search)
    division = greedy(search, grids)
    assert division is not None
    count = BUDGETS[EFFORT].cells
    new = search_cells(instance, grids, division, count=count, seed=SEED, watch=QUIET)
    return instance.division_worth(new), len(new.stones)


def measured(name: str, mesh: Mesh, most: int = MOST) -> Row:
    """One piece by both."""
    rough = rough_of(name, mesh)
    first, stones = largest_first(search_of(rough, most))
    divided, seconds = timed(lambda: divide(search_of(rough, most)))
    assert divided is not None
    carat = sum(s.volume_mm3 for s in divided.best.stones) * rough.material.sg / 200.0
    count = len(divided.best.stones)
    return Row(name, len(mesh.faces), rough.carat, first, stones, carat, count, seconds)


def pieces() -> dict[str, Callable[[], Mesh]]:
    """Ten pieces of the kinds that are sawn into several stones, real ones where they are."""
    made, others = shapes(), dense_pieces()
    names = ("pebble", "dented", "bent", "stepped", "boulder", "two-lobed")
    longer = {name: others[name] for name in names if name in others}
    return {
        "crystal": lambda: dense(made.crystal(1, length=40.0, width=14.0)),
        "thin crystal": lambda: dense(made.crystal(2, length=40.0, width=9.0)),
        "slab": lambda: dense(made.slab(1, length=30.0, thickness=6.0)),
        "thick slab": lambda: dense(made.slab(2, length=26.0, thickness=10.0)),
        **longer,
    }


def table(rows: list[Row]) -> Table:
    """Against largest first."""
    gains = [row.gain for row in rows]
    return Table(
        "Against largest first",
        ("piece", "triangles", "rough, ct", "largest first, ct (stones)", "ours, ct (stones)",
         "gain, %", "search, s"),
        [
            (r.name, f"{r.triangles:,}", f"{r.rough_carat:.1f}",
             f"{r.first_carat:.2f} ({r.first_stones})", f"{r.carat:.2f} ({r.stones})",
             f"{r.gain:+.1f}", f"{r.seconds:.0f}")
            for r in rows
        ],
        f"Gain {mean(gains):+.1f} % on average, {min(gains):+.1f} to {max(gains):+.1f} % (aim: "
        f"{GOAL_PERCENT:g} % on average). Longest search {max(r.seconds for r in rows):.0f} s "
        f"(aim: {GOAL_S:g} s for the whole plan).",
    )  # fmt: skip


def main(names: list[str]) -> None:
    """All pieces, or those named."""
    chosen = {k: make for k, make in pieces().items() if not names or k in names}
    rows = []
    for name, make in chosen.items():
        rows.append(measured(name, make()))
        print(rows[-1], flush=True)
    if names:
        return
    many = measured("large slab", dense(shapes().slab(3, length=60.0, thickness=6.0)), MANY)
    print(many, flush=True)
    whole = Table(
        f"{MANY} stones from one slab",
        ("triangles", "rough, ct", "largest first, ct (stones)", "ours, ct (stones)", "search, s"),
        [(f"{many.triangles:,}", f"{many.rough_carat:.1f}",
          f"{many.first_carat:.2f} ({many.first_stones})", f"{many.carat:.2f} ({many.stones})",
          f"{many.seconds:.0f}")],
        f"Aim: {MANY_GOAL_S:g} s.",
    )  # fmt: skip
    write_page("several", INTRO, [table(rows), whole])


if __name__ == "__main__":
    main(sys.argv[1:])
