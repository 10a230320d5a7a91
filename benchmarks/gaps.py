"""What is proved in hollow rough: the gap after some minutes, beside that of the hull alone."""

import sys

from benchmarks.pairs import SKIN_MM, pairs
from benchmarks.pieces import hull
from benchmarks.stones import carat, found, proved
from benchmarks.tables import Table, write_page
from optimizer.mesh import Mesh
from optimizer.offers.offer import Offer
from optimizer.placement.model import Placement
from optimizer.solid import as_solid

CHOSEN = (
    ("pebble", "round-brilliant"), ("stepped", "round-brilliant"), ("chipped slab", "pear"),
    ("boulder", "oval"), ("quarry", "round-brilliant"), ("two-lobed", "oval"),
)  # fmt: skip
PROOF_S = 180.0
HULL_S = 20.0
GAP_PERCENT = 0.1  # where a proof stops before its time
COLUMNS = (
    "piece", "design", "found ct", "hull bound ct", "hull gap %", "hull's stone ct",
    "it sticks out %", "proved ct", "proved gap %", "s", "below the hull's stone",
)  # fmt: skip

INTRO = """\
How much heavier than the stone found (normal effort, {skin:g} mm clear) another may be, in percent
of its weight, on six of the dense scans of [scans](scans.md). *Proved* is `widest_possible` with
two threads as `make_plan(..., prove=True)` calls it, stopped after {seconds:g} s or at a gap of
{gap:g} %. The *hull bound* is the same on the convex hull of the piece, after {hull_s:g} s: it
knows nothing of hollows. *The hull's stone* is the one found in the hull, and *sticks out* the
share of its volume that lies outside the rough, by the robust kernel: above 0, that stone would
swallow surface, and only a proof that knows the hollows can exclude it. Where what is proved is
below that stone, it is strictly tighter than any bound of the hull could be. Goals: that, wherever
it sticks out; 5 %, and 1 % on nearly convex rough."""


def row(piece: str, design: str, mesh: Mesh, offer: Offer, seconds: float) -> list[str]:
    """Find one stone, and prove how much heavier another may be."""
    stone = found(mesh, offer)
    in_hull = found(hull(mesh.vertices), offer)
    of_hull = proved(
        in_hull.ground, offer, in_hull.width_mm, gap_percent=GAP_PERCENT, seconds=HULL_S
    )
    proof = proved(stone.ground, offer, stone.width_mm, gap_percent=GAP_PERCENT, seconds=seconds)
    widths = [stone.width_mm, of_hull.width_mm, in_hull.width_mm, proof.width_mm]
    ours, hulls, inside, proves = (f"{carat(offer, width):.3f}" for width in widths)
    tighter = proof.width_mm < in_hull.width_mm  # which no bound of the hull can be below
    return [
        piece, design, ours, hulls, f"{of_hull.gap_percent(offer, stone.width_mm):.2f}",
        inside, f"{sticks_out_percent(in_hull.placement, mesh):.2f}", proves,
        f"{proof.gap_percent(offer, stone.width_mm):.2f}", f"{proof.seconds:.0f}",
        "yes" if tighter else "no",
    ]  # fmt: skip


def sticks_out_percent(placement: Placement | None, mesh: Mesh) -> float:
    """Share of the stone's volume outside the rough."""
    if placement is None:
        return 0.0
    stone = as_solid(placement.mesh())
    return float(100.0 * (stone - as_solid(mesh)).volume() / stone.volume())


def main(seconds: float = PROOF_S) -> None:
    """Prove on every pair chosen, and write the page."""
    rows = []
    for piece, design, mesh, offer in pairs(CHOSEN):
        if not rows:
            _warm(mesh, offer)
        rows.append(row(piece, design, mesh, offer, seconds))
        print(" ".join(rows[-1]), flush=True)
    intro = INTRO.format(skin=SKIN_MM, seconds=seconds, gap=GAP_PERCENT, hull_s=HULL_S)
    write_page("gaps", intro, [Table("Gaps", COLUMNS, rows)])


def _warm(mesh: Mesh, offer: Offer) -> None:
    """Compiled code loads."""
    quick = found(mesh, offer, "quick")
    proved(quick.ground, offer, quick.width_mm, gap_percent=GAP_PERCENT, seconds=1.0)


if __name__ == "__main__":  # python -m benchmarks.gaps [SECONDS]
    main(*(float(seconds) for seconds in sys.argv[1:2]))
