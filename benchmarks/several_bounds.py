"""How far the bound of a plan for several stones stands above the best division known.

The divisions known by construction are those of ``benchmarks.divisions``, with half a percent to
spare. For other pieces, what the search found stands in results/several.md.
"""

import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from statistics import mean

from benchmarks.divisions import SPARE, cases
from benchmarks.several import LEAST_MM, MOST, pieces, rough_of
from benchmarks.tables import RESULTS, Table, timed, write_page
from optimizer.order import Order, SizeDemand
from optimizer.order.several import Several
from optimizer.placement.ground import Ground
from optimizer.rough.model import Rough
from optimizer.several.instance import Instance
from optimizer.several.plan_bounds import PlanBound, plan_worth_bound, single_stone_bounds
from optimizer.several.wishes import wishes
from optimizer.several.worth import worth_of

FEW = 6  # of those pieces: two crystals, two slabs, a pebble and a dented one

INTRO = """\
*Best* is the worth of the best division known: by construction in the first table, found by the
search in the second (see *several*). *Bound*: no plan is worth more."""


@dataclass(frozen=True)
class Row:
    """One piece: the best division known, and the bound."""

    name: str
    best: float
    bound: PlanBound
    seconds: float

    @property
    def above(self) -> float:
        """Percent of the best by which the bound is greater."""
        return 100.0 * (self.bound.worth / self.best - 1.0)


def bounded(name: str, rough: Rough, order: Order, best: float) -> Row:
    """One piece."""
    wanted = wishes(rough, order)[0]
    worth = worth_of(order, [offer.design for wish in wanted for offer in wish.offers])[0]
    ground = Ground.of(rough.mesh)
    instance = Instance(ground, wanted, worth, rough.material.sg, order.workshop)
    most = (order.several or Several()).most

    def bound() -> PlanBound:
        return plan_worth_bound(instance, rough, most, single_stone_bounds(instance))

    return Row(name, best, *timed(bound))


def known() -> Iterator[Row]:
    """The divisions known by construction."""
    for case in cases():
        rough, best = case.piece(1.0 + SPARE), case.best(1.0 + SPARE)
        if case.unit == "stones":
            offer = wishes(rough, case.order)[0][0].offers[0]
            volume = offer.want.body.volume_at(offer.want.width_mm[1])
            best *= volume * rough.material.sg / 200.0
        yield bounded(case.name, rough, case.order, best)


def found() -> Iterator[Row]:
    """The pieces of ``benchmarks.several``, with what was found in them."""
    page = (RESULTS / "several.md").read_text(encoding="utf-8")
    order = Order(size=SizeDemand(width_mm=(LEAST_MM, 1000.0)), several=Several(MOST))
    for name, make in islice(pieces().items(), FEW):
        line = re.search(rf"^\| {name} \|(.*)$", page, re.MULTILINE)
        if line:
            best = float(line[1].split("|")[3].split("(")[0])
            yield bounded(name, rough_of(name, make()), order, best)


def table(title: str, rows: list[Row]) -> Table:
    """How far the bounds stand above."""
    above = [row.above for row in rows]
    return Table(
        title,
        ("piece", "best", "bound", "above, %", "s", "because"),
        [
            (r.name, f"{r.best:.2f}", f"{r.bound.worth:.2f}", f"{r.above:.0f}",
             f"{r.seconds:.1f}", r.bound.because)
            for r in rows
        ],
        f"{min(above):.0f} to {max(above):.0f} % above, {mean(above):.0f} % on average.",
    )  # fmt: skip


def main(names: list[str]) -> None:
    """All pieces; with any word, the divisions known by construction alone, on the screen."""
    parts = {"Known by construction": known(), "Found by the search": found()}
    tables = []
    for title, rows in parts.items():
        if names and title != "Known by construction":
            continue
        measured = []
        for row in rows:
            print(row, flush=True)
            measured.append(row)
        tables.append(table(title, measured))
    if not names:
        write_page("several_bounds", INTRO, tables)


if __name__ == "__main__":
    main(sys.argv[1:])
