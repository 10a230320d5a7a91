"""How the time of a placement grows with the scan's triangles, preparation included."""

from benchmarks.pairs import SKIN_MM
from benchmarks.pieces import NOISE_MM, dense, shapes
from benchmarks.stones import carat, found, offer_of
from benchmarks.tables import Table, timed, write_page
from optimizer.placement.ground import Ground

DESIGN = "round-brilliant"
TRIANGLES = (10_000, 50_000, 200_000, 600_000, 2_000_000)
REPEATS = 3  # the least time counts
COLUMNS = ("piece", "triangles", "preparation s", "in all s", "times the first", "ct")

INTRO = f"""\
The same pieces at ever more triangles, each with {NOISE_MM:g} mm of noise: one {DESIGN} in
quartz, {SKIN_MM:g} mm clear of the surface, normal effort, compiled code warm, the mesh in memory,
the least of {REPEATS} times. *In all* is `Ground.of` (the preparation) and `place` together. Goal:
from 10,000 to 2,000,000 triangles less than 4 times. More triangles bring more noise that sticks
in, so that the stone may be a little smaller."""


def main() -> None:
    """Time every density of every piece and write the page."""
    made, offer = shapes(), offer_of(DESIGN, SKIN_MM)
    rows, ratios = [], []
    for name, plain in (("pebble", made.pebble(3)), ("crystal", made.crystal(0))):
        first = 0.0
        for triangles in TRIANGLES:
            mesh = dense(plain, triangles)
            if not rows:
                found(mesh, offer, "quick")  # compiled code loads
            tries = [found(mesh, offer) for _ in range(REPEATS)]
            seconds = min(each.seconds for each in tries)
            ready = min(timed(lambda mesh=mesh: Ground.of(mesh))[1] for _ in range(REPEATS))
            first = first or seconds
            rows.append([
                name, f"{len(mesh.faces):,}", f"{ready:.2f}", f"{seconds:.2f}",
                f"{seconds / first:.2f}", f"{carat(offer, tries[0].width_mm):.3f}",
            ])  # fmt: skip
            print(" ".join(rows[-1]), flush=True)
        ratios.append(seconds / first)
    note = f"From the first to the last {max(ratios):.1f} times at most; the goal is 4."
    write_page("growth", INTRO, [Table("Normal effort", COLUMNS, rows, note)])


if __name__ == "__main__":
    main()
