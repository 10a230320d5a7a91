"""Stones that the benchmarks lay: a design without an order, its weight, and a bound in time."""

from dataclasses import dataclass
from time import perf_counter

import numpy as np

from benchmarks.tables import timed
from optimizer import load_design
from optimizer.design import build_body, full_parameters
from optimizer.mesh import Mesh
from optimizer.offers.offer import Offer
from optimizer.offers.width_bound import width_bound
from optimizer.placement.ground import Ground
from optimizer.placement.model import Placement
from optimizer.placement.place import Want, place
from optimizer.placement.proof import MOST_CELLS
from optimizer.placement.search import Watch
from optimizer.trade.materials import load_material

SG = load_material("quartz").sg


def offer_of(name: str, skin_mm: float) -> Offer:
    """A design of the library at its own proportions, of any size, its girdle a share of it."""
    design = load_design(name)
    body = build_body(design, {}, least_girdle_mm=0.0, least_girdle_share=0.0)
    return Offer(design, full_parameters(design, {}), Want(body, (0.0, np.inf), skin_mm))


def carat(offer: Offer, width_mm: float) -> float:
    """The weight in quartz at a width."""
    return offer.want.body.volume_at(width_mm) * SG / 200.0


def until(seconds: float) -> Watch:
    """A watch that stops after ``seconds``."""
    started = perf_counter()
    return Watch(stop=lambda: perf_counter() - started >= seconds)


@dataclass(frozen=True)
class Found:
    """A placement from the mesh on."""

    placement: Placement | None
    ground: Ground
    seconds: float  # the preparation of the piece and the search

    @property
    def width_mm(self) -> float:
        """The stone's width; 0 where none was found."""
        return 0.0 if self.placement is None else self.placement.pose.width


def found(
    mesh: Mesh, offer: Offer, effort: str = "normal", *, seed: int = 0, watch: Watch | None = None
) -> Found:
    """Prepare the piece and lay the stone."""

    def both() -> tuple[Ground, Placement | None]:
        ground = Ground.of(mesh)
        how = watch or Watch()
        return ground, place(ground, offer.want, effort=effort, seed=seed, watch=how)

    (ground, placement), seconds = timed(both)
    return Found(placement, ground, seconds)


@dataclass(frozen=True)
class Proved:
    """No stone of an offer is wider than ``width_mm``, and how long that took to show."""

    width_mm: float
    seconds: float

    def gap_percent(self, offer: Offer, found_mm: float) -> float:
        """How much heavier than the stone found another may be, in percent."""
        return 100.0 * (carat(offer, self.width_mm) / carat(offer, found_mm) - 1.0)


def proved(
    ground: Ground, offer: Offer, found_mm: float, *, gap_percent: float, seconds: float
) -> Proved:
    """Bound the width until no stone can be heavier by ``gap_percent``, or the time is up."""
    gap = (1.0 + gap_percent / 100.0) ** (1.0 / 3.0) - 1.0
    width, took = timed(
        lambda: width_bound(
            ground,
            offer,
            found=found_mm,
            cells=MOST_CELLS,
            gap=gap,
            hollows=True,
            watch=until(seconds),
        )
    )
    return Proved(width, took)
