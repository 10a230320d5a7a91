"""One stone of any design: a glance at each design and a search of the promising ones, held against
a search of every design.

python -m benchmarks.many_designs [PIECES]
"""

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from itertools import islice
from statistics import median
from typing import TypeVar

import numpy as np

from benchmarks.pieces import polytope, shapes
from benchmarks.several import rough_of
from benchmarks.tables import Table, write_page
from optimizer.mesh import Mesh
from optimizer.offers.allowed import allowed_offers
from optimizer.offers.heaviest import heaviest
from optimizer.offers.placement_cache import PlacedOffer, PlacementCache
from optimizer.offers.within_reach import HOPE, passed_over
from optimizer.order import Order
from optimizer.placement.ground import Ground
from optimizer.placement.search import Watch

Result = TypeVar("Result")
EFFORT = "quick"

INTRO = f"""\
Quick searches in pieces of a few hundred triangles. *Ours*: every design is glanced at, and those
are searched of which {HOPE:g} times the glance is as heavy as the best stone found so far. *Every*:
each design is searched. *Gain*: the most by which a search gave more than the glance at the same
design, as a factor; passing over is safe below {HOPE:g}. *Times*: processor time as a multiple of
the search for the design that won, alone."""


@dataclass(frozen=True)
class Row:
    """One piece."""

    name: str
    designs: int
    passed_over: int
    ours: str
    every: str
    gain: float
    times_ours: float
    times_every: float


def pieces() -> dict[str, Callable[[], Mesh]]:
    """Pieces by name, convex and hollow, long and flat."""
    made = shapes()
    chance = np.random.default_rng(5)
    sizes = np.sort(chance.uniform(6.0, 20.0, (6, 3)), axis=1)
    found: dict[str, Callable[[], Mesh]] = {
        "pebble": lambda: made.pebble(3, 8.0, 2),
        "dented": lambda: made.dented(4, 8.0, subdivisions=2),
        "slab": lambda: made.box((20.0, 14.0, 6.0)),
    }
    for k, size in enumerate(sizes):
        found[f"block {k + 1}"] = lambda size=size: made.box(tuple(size))
    for seed in range(11):
        found[f"polytope {seed + 1}"] = lambda seed=seed: polytope(10 + seed, seed)
    return found


def judged(name: str, mesh: Mesh) -> Row:
    """One piece, searched in both ways from nothing known."""
    rough = rough_of(name, mesh)
    allowed, _ = allowed_offers(rough, Order())
    ground = Ground.of(rough.mesh)

    def new_cache() -> PlacementCache:
        return PlacementCache(ground, 0, Watch())

    ours, every, glances = new_cache(), new_cache(), new_cache()
    best, seconds = processor_time(lambda: heaviest(ours, allowed, EFFORT))
    found, seconds_of_every = processor_time(lambda: [every.best(o, EFFORT) for o in allowed])
    heaviest_of_every = max((one for one in found if one), key=volume)
    alone = next(o for o in allowed if o.design is heaviest_of_every.offer.design)
    _, seconds_of_one = processor_time(lambda: new_cache().best(alone, EFFORT))
    glanced = [glances.glance(offer) for offer in allowed]
    gains = [volume(a) / volume(b) for a, b in zip(found, glanced, strict=True) if a and b]
    assert best is not None
    return Row(
        name, len(allowed), len(passed_over(ours, allowed)), best.offer.design.name,
        alone.design.name, max(gains), seconds / seconds_of_one, seconds_of_every / seconds_of_one,
    )  # fmt: skip


def volume(one: PlacedOffer) -> float:
    """The volume of a placed stone, mm³."""
    return one.placement.volume_mm3


def processor_time(job: Callable[[], Result]) -> tuple[Result, float]:
    """What ``job`` returns, and the seconds that its process computed."""
    started = time.process_time()
    result = job()
    return result, time.process_time() - started


def main() -> None:
    """Judge the pieces, the first so many of them where a number is given."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else None
    rows = [judged(name, make()) for name, make in islice(pieces().items(), count)]
    cells = [
        [
            row.name, f"{row.passed_over} of {row.designs}", row.ours, row.every,
            f"{row.gain:.3f}", f"{row.times_ours:.1f}", f"{row.times_every:.1f}",
        ]
        for row in rows
    ]  # fmt: skip
    same = sum(row.ours == row.every for row in rows)
    ours, every = (
        median(getattr(row, f"times_{key}") for row in rows) for key in ("ours", "every")
    )
    note = (
        f"The same design won in {same} of {len(rows)} pieces. Ours took {ours:.1f} times as long "
        f"as the search for the winner alone (median), searching every design {every:.1f} times."
    )
    columns = ("piece", "passed over", "ours", "every", "gain", "times, ours", "times, every")
    write_page("many_designs", INTRO, [Table("Designs", columns, cells, note)])


if __name__ == "__main__":
    main()
