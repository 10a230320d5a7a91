"""Carats of our placement beside those of two general methods, after the same and longer times."""

import sys

import numpy as np

from benchmarks.containment import Judge, Piece
from benchmarks.evolution import METHODS
from benchmarks.pieces import DEMO, REAL, SCANS, polytope, real_scan
from benchmarks.stones import carat, found, offer_of, until
from benchmarks.tables import Table, write_page
from optimizer import load_rough
from optimizer.mesh import Mesh
from optimizer.offers.offer import Offer

PAIRS = (
    ("demo crystal", "round-brilliant"), ("demo crystal", "pear"),
    ("convex polytope", "round-brilliant"), ("lump", "pear"), ("two-lobed", "round-brilliant"),
    ("quarry", "pear"),
)  # fmt: skip
SKIN_MM = 0.25
FIRST_S, SOON_S, LONG_S = 2.0, 10.0, 60.0
COLUMNS = (
    "piece", "triangles", "design", "ours ct, stopped", "s", "ours ct", "s", "method",
    "its ct, soon", "its ct, long", "ours, stopped / its, long", "s until ours, stopped",
    "poses judged",
)  # fmt: skip

INTRO = """\
The heaviest stone of one design in one piece, {skin} mm clear of the surface all round, no colour
zone, girdle a share of the width. *Ours* is `place` at normal effort, compiled code warm, with the
preparation of the piece counted; *stopped* is the best that the same search gives when it is told
to stop after {first:g} s (it still makes that exact; one that ends sooner is not stopped). The
methods search over an exact containment test built from general libraries: how that is set up, and
why that is their best chance, is written at the heads of [containment.py](../containment.py) and
[evolution.py](../evolution.py). Each runs once, for {seconds:g} s, and is read after {soon:g} s
(*soon*) and at the end (*long*); the preparation of its piece is not counted."""


def piece_of(name: str) -> Mesh | None:
    """The mesh of a piece; None where it is a real scan that is absent."""
    if name == "demo crystal":
        return load_rough(DEMO).mesh
    if name == "convex polytope":
        return polytope()
    path = SCANS / REAL[name]
    return real_scan(path).mesh if path.exists() else None


def compared(name: str, mesh: Mesh, offer: Offer, seconds: float) -> list[list[str]]:
    """A row for each method."""
    stopped, ours = found(mesh, offer, watch=until(FIRST_S)), found(mesh, offer)
    start = [
        name, f"{len(mesh.faces):,}", offer.design.name,
        f"{carat(offer, stopped.width_mm):.3f}", f"{stopped.seconds:.2f}",
        f"{carat(offer, ours.width_mm):.3f}", f"{ours.seconds:.2f}",
    ]  # fmt: skip
    rows = []
    for method, run in METHODS.items():
        judge = Judge(Piece.of(mesh), offer.want.body, SKIN_MM, seconds)
        run(judge)
        soon, long = (carat(offer, judge.width_by(s)) for s in (min(SOON_S, seconds), np.inf))
        reached = judge.seconds_to(stopped.width_mm)
        until_ours = f"{reached:.1f}" if np.isfinite(reached) else f"not within {seconds:g}"
        ratio = carat(offer, stopped.width_mm) / long if long else np.inf
        rows.append([
            *start, method, f"{soon:.3f}", f"{long:.3f}", f"{ratio:.3f}", until_ours,
            f"{judge.judged:,}",
        ])  # fmt: skip
        print(" ".join(rows[-1]), flush=True)
    return rows


def main(seconds: float = LONG_S) -> None:
    """Compare on every piece and write the page."""
    found(polytope(), offer_of("round-brilliant", SKIN_MM), "quick")  # compiled code loads
    rows: list[list[str]] = []
    for name, design in PAIRS:
        mesh = piece_of(name)
        if mesh is None:
            print(f"left out: the scan of {name} is not there")
            continue
        rows += compared(name, mesh, offer_of(design, SKIN_MM), seconds)
    intro = INTRO.format(skin=SKIN_MM, first=FIRST_S, soon=SOON_S, seconds=seconds)
    table = Table("Carats, ours against general methods", COLUMNS, rows)
    write_page("against_evolution", intro, [table])


if __name__ == "__main__":  # python -m benchmarks.against_evolution [SECONDS]
    main(*(float(seconds) for seconds in sys.argv[1:2]))
