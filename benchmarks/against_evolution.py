"""Carats of our placement against a general method's in the same wall time, as a ratio."""

import sys
from dataclasses import dataclass

import numpy as np

from benchmarks.evolution import Evolution, Piece
from benchmarks.pieces import DEMO, SCANS, polytope, real_scan
from benchmarks.tables import Table, load, timed, write_page
from optimizer import load_design, load_rough
from optimizer.design import build_body
from optimizer.design.model import Body
from optimizer.errors import InputError
from optimizer.materials import load_material
from optimizer.mesh import Mesh
from optimizer.placement.ground import Ground
from optimizer.placement.place import Want, place
from optimizer.placement.search import Watch

DESIGNS = ("round-brilliant", "pear")
REAL = ("apollo/apollo13.ply", "04_kleopatra.obj", "03_quarry_E22.ply")
SKIN_MM = 0.25
LONG_S = 60.0
SG = load_material("quartz").sg
COLUMNS = (
    "piece", "triangles", "design", "ours ct", "ours s", "evolution ct, same time",
    "ours / evolution", "evolution ct, long", "ours / evolution, long", "poses judged", "starts",
)  # fmt: skip

INTRO = """\
The heaviest stone of one design in one piece, {skin} mm clear of the surface all round, no colour
zone, girdle a share of the width. *Ours* is `place` at normal effort, compiled code warm, with the
preparation of the piece counted. *Evolution* is scipy's differential evolution over an exact
containment test built from general libraries, stopped from outside by its callback; how it is set
up, and why that is its best chance, is written at the head of
[evolution.py](../evolution.py). It runs once, for {seconds:g} s (or as long as ours took, if that
is longer), and is read at our time and at the end; the preparation of its piece is not counted. A
ratio above 1 means that ours is heavier."""


@dataclass(frozen=True)
class Found:
    """One of our placements."""

    width_mm: float
    seconds: float


def pieces() -> list[tuple[str, Mesh]]:
    """Name and mesh of every piece that is there."""
    found = [("demo crystal", load_rough(DEMO).mesh), ("convex polytope", polytope())]
    for name in REAL:
        if (SCANS / name).exists():
            try:
                found.append((name, real_scan(SCANS / name).mesh))
            except InputError as error:
                print(f"left out: {error}")
    return found


def ours(mesh: Mesh, body: Body, effort: str = "normal") -> Found:
    """Our placement from the mesh on."""
    want = Want(body, (0.0, np.inf), SKIN_MM)
    placement, seconds = timed(
        lambda: place(Ground.of(mesh), want, effort=effort, seed=0, watch=Watch())
    )
    return Found(placement.pose.width if placement else 0.0, seconds)


def compared(name: str, mesh: Mesh, design: str, seconds: float) -> list[str]:
    """The row of one piece and design."""
    body = build_body(load_design(design), {}, least_girdle_mm=0.0, least_girdle_share=0.0)
    mine = ours(mesh, body)
    evolution = Evolution(Piece.of(mesh), body, SKIN_MM, max(seconds, mine.seconds)).run()
    carat, same, long = (
        body.volume_at(width) * SG / 200.0
        for width in (mine.width_mm, evolution.width_by(mine.seconds), evolution.width_by(np.inf))
    )
    return [
        name, f"{len(mesh.faces):,}", design, f"{carat:.3f}", f"{mine.seconds:.2f}",
        f"{same:.3f}", _ratio(carat, same), f"{long:.3f}", _ratio(carat, long),
        f"{evolution.judged:,}", str(evolution.starts),
    ]  # fmt: skip


def _ratio(mine: float, theirs: float) -> str:
    return f"{mine / theirs:.3f}" if theirs > 0.0 else "it found none"


def main(seconds: float = LONG_S) -> None:
    """Compare on every piece and write the page."""
    before = load()
    rows: list[list[str]] = []
    for name, mesh in pieces():
        for design in DESIGNS:
            if not rows:
                ours(polytope(), build_body(load_design(design)), "quick")  # compiled code loads
            rows.append(compared(name, mesh, design, seconds))
            print(" ".join(rows[-1]), flush=True)
    intro = INTRO.format(skin=SKIN_MM, seconds=seconds)
    table = Table("Carats, ours against evolution", COLUMNS, rows)
    write_page("against_evolution", intro, [table], before)


if __name__ == "__main__":  # python -m benchmarks.against_evolution [SECONDS]
    main(*(float(seconds) for seconds in sys.argv[1:2]))
