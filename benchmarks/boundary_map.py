"""How many boundary positions a second the map of the look takes, and how true it is."""

from time import perf_counter

import numpy as np

from benchmarks.tables import Table, write_page
from optimizer.design import build_body, load_design
from optimizer.design.model import Body
from optimizer.mesh import Floats
from optimizer.optics.beam_samples import SQUARES, beam_shares
from optimizer.optics.dye import Dye, Sample, dye_of
from optimizer.optics.look import CutStone
from optimizer.optics.look_map import LookMap
from optimizer.optics.plane_shares import PlaneShares
from optimizer.optics.ray_samples import ray_face, ray_shares
from optimizer.trade.materials import load_material

WIDTH_MM, MATERIAL = 8.0, "quartz"
BY_BEAMS, BY_RAYS = (1000, 2000, SQUARES, 8000), (16_000, 64_000)
CONVERGED = 320_000
TELLING = 0.05  # of the face in either colour: below that a balance divides next to nothing
REPEATS = 3
COLUMNS = (
    "design", "sampling", "places", "positions a second", "share off at worst",
    "balance off at worst", "95 % of balances within",
)  # fmt: skip

INTRO = f"""\
A flat boundary between violet and yellow in {MATERIAL}, {WIDTH_MM:g} mm wide: what share of the
face shows violet, and how alike its halves and ends are, over a grid of positions: every 30° of
tilt and azimuth, 21 offsets from −0.8 to 0.8. Compiled code warm, two threads, the least of
{REPEATS} times; tracing is not counted, as it is done once. *Beams*: the middles of the pieces that
so many squares cut from beams of like rays, by their areas. *Rays*: so many places of a lattice.
*Off* is against {CONVERGED:,} rays, which share nothing with the beams but the laws of light,
balances where at least {100 * TELLING:g} % of the face shows either colour. Goal: 1,000 positions
a second at a sampling whose share and balance are within 0.01."""


def main() -> None:
    """Time each sampling of three designs and write the page."""
    rows = []
    for name in ("long-hexagon", "round-brilliant", "pear"):
        body = build_body(load_design(name))
        cut = CutStone(body, WIDTH_MM, load_material(MATERIAL))
        true = _map(_by_rays(cut, CONVERGED), body)
        for told, ways, counts in (("beams", _by_beams, BY_BEAMS), ("rays", _by_rays, BY_RAYS)):
            for count in counts:
                ready, seconds = ways(cut, count), []
                for _ in range(REPEATS):
                    started = perf_counter()
                    got = _map(ready, body)
                    seconds.append(perf_counter() - started)
                sizes = f"{told}, {count:,}", f"{len(ready.rays.start):,}"
                rows.append([name, *sizes, f"{got.share.size / min(seconds):,.0f}"])
                rows[-1] += _off(got, true)
                print(" ".join(rows[-1]), flush=True)
    write_page("boundary_map", INTRO, [Table("Sampling", COLUMNS, rows)])


def _dyes() -> tuple[Dye, Dye]:
    violet, yellow = (dye_of([Sample(c, 3.0)]) for c in ((0.54, 0.36, 0.76), (0.91, 0.72, 0.23)))
    return violet, yellow


def _by_beams(cut: CutStone, squares: int) -> PlaneShares:
    return beam_shares(cut, *_dyes(), squares)


def _by_rays(cut: CutStone, places: int) -> PlaneShares:
    return ray_shares(ray_face(cut, places=places), *_dyes())


def _map(ready: PlaneShares, body: Body) -> LookMap:
    tilts, azimuths = np.arange(-90.0, 91.0, 30.0), np.arange(-180.0, 180.0, 30.0)
    offsets = np.linspace(-0.8, 0.8, 21)
    return LookMap.of(ready, body.vertices_at(WIDTH_MM), tilts, azimuths, offsets)


def _off(got: LookMap, true: LookMap) -> list[str]:
    tells = (true.share > TELLING) & (true.share < 1.0 - TELLING)
    share = np.abs(got.share - true.share).max()
    balance = np.concatenate(
        [np.abs(a - b)[tells] for a, b in zip(_balances(got), _balances(true), strict=True)]
    )
    return [f"{share:.4f}", f"{balance.max():.4f}", f"{np.quantile(balance, 0.95):.4f}"]


def _balances(one: LookMap) -> tuple[Floats, Floats]:
    return one.halves, one.ends


if __name__ == "__main__":
    main()
