"""Dense scans: how long a plan's search takes, and how near it comes to the best known stone."""

from benchmarks.pairs import SKIN_MM, best_known, pairs
from benchmarks.pieces import DENSE, NOISE_MM
from benchmarks.stones import SG, carat, found
from benchmarks.tables import Table, write_page
from optimizer.mesh import volume

REPEATS = 2  # the lesser time counts
COLUMNS = (
    "piece", "triangles", "design", "rough ct", "s", "ct", "best known ct", "share of it %",
)  # fmt: skip

INTRO = f"""\
Pieces divided to about {DENSE:,} triangles, with {NOISE_MM:g} mm of noise along the normal, each
with one design in quartz, {SKIN_MM:g} mm clear of the surface. Seconds are `Ground.of` (the
preparation) and `place` at normal effort together, compiled code warm, the mesh in memory, the
lesser of {REPEATS} times. The best known stones are kept in [best_known.json](../best_known.json),
which `python -m benchmarks.pairs` raises by searches of thorough effort, 3 minutes a pair. Goals:
under 10 s, and no less than 99.5 % of the best known."""


def main() -> None:
    """Search every pair and write the page."""
    rows, shares, times = [], [], []
    for piece, design, mesh, offer in pairs():
        if not rows:
            found(mesh, offer, "quick")  # compiled code loads
        tries = [found(mesh, offer) for _ in range(REPEATS)]
        ct, seconds = carat(offer, tries[0].width_mm), min(each.seconds for each in tries)
        best = best_known(piece, design, mesh)
        rows.append([
            piece, f"{len(mesh.faces):,}", design, f"{volume(mesh) * SG / 200.0:.2f}",
            f"{seconds:.2f}", f"{ct:.4f}", *_share(ct, best),
        ])  # fmt: skip
        print(" ".join(rows[-1]), flush=True)
        shares += [100.0 * ct / best] if best is not None else []
        times.append(seconds)
    least = f"{min(shares):.2f} %" if shares else "not known"
    note = f"Slowest {max(times):.1f} s; least share {least}."
    write_page("scans", INTRO, [Table("Normal effort", COLUMNS, rows, note)])


def _share(ct: float, best: float | None) -> tuple[str, str]:
    return ("-", "-") if best is None else (f"{best:.4f}", f"{100.0 * ct / best:.2f}")


if __name__ == "__main__":
    main()
