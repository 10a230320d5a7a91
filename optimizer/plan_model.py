"""A plan: the answer to an order, complete in memory."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace

from optimizer.design.family import Free
from optimizer.design.model import Design
from optimizer.guidance.model import Guidance, SawGuide
from optimizer.offers.angle_advice import AngleAdvice
from optimizer.offers.bound import Bound
from optimizer.offers.freedom import PROPORTION, ratio_range
from optimizer.optics.angles import ClearLight
from optimizer.optics.look import Look
from optimizer.optics.vicinity import Vicinity
from optimizer.order import Order, Range
from optimizer.placement.model import ActiveConstraints, Placement
from optimizer.rough.model import Rough
from optimizer.sawing.model import SawPlan

OrderValue = float | Range | str | None


@dataclass(frozen=True)
class FreedProportion:
    """The best stone of a quick search with length-to-width free over the design's range."""

    low: float
    high: float
    value: float | None  # of length-to-width; None: no stone was found
    carat: float | None


@dataclass(frozen=True)
class Stone:
    """A finished stone of the plan."""

    design: Design
    parameters: Mapping[str, float]
    placement: Placement
    length_mm: float
    width_mm: float
    depth_mm: float
    girdle_mm: float
    volume_mm3: float
    carat: float
    carat_range: tuple[float, float]
    bound: Bound | None
    cut_to_size: bool = False  # whether it is as wide as the order allows
    held: ActiveConstraints | None = None  # its active constraints; None: not worked out
    free: tuple[Free, ...] = ()  # the parameters that were chosen, with their ranges
    usual_light: ClearLight | None = None  # of the usual angles, where they were free by default
    own_light: ClearLight | None = None  # of the angles chosen, beside it
    usual_carat: float | None = None  # weight of the best stone with their usual values
    look: Look | None = None  # None: not worked out
    look_about: Vicinity | None = None  # what the face shows with the boundary near its place
    brighter: AngleAdvice | None = None  # other angles, where they return markedly more light
    guidance: Guidance | None = None  # None where the stone has no saw plan
    freed: FreedProportion | None = None  # None: length-to-width is not held, or it wasn't tried
    order: Order | None = None  # the order of this stone alone, in an order of several stones
    wanted: str = ""  # the name of its [[wanted]] entry in the order
    money: float | None = None  # its price; None where no price covers it


@dataclass(frozen=True)
class Objective:
    """The quantity that the plan maximizes, and its value."""

    kind: str  # "carat" | "money" | "clearance"
    value: float
    unit: str


@dataclass(frozen=True)
class RuledOut:
    """A demand whose removal alone gives a stone, and that stone."""

    demand: str  # a plain sentence
    stone: Stone


@dataclass(frozen=True)
class OrderChange:
    """A demand of the order, by its table and key in the order file, and its new value."""

    table: str  # empty: the head of the file
    key: str
    ordered: OrderValue  # None: several values under names of their own
    works: OrderValue  # None: the demand is left out
    wanted: str = ""  # the name of the [[wanted]] entry that it belongs to


@dataclass(frozen=True)
class NearestOrder:
    """An order near the plan's own for which a search found what it asks, and what was found."""

    changes: tuple[OrderChange, ...]
    stones: tuple[Stone, ...]  # each with the nearest order of its own

    def for_wanted(self, name: str) -> "NearestOrder":
        """The same order, as that of a [[wanted]] entry."""
        changes = tuple(replace(change, wanted=name) for change in self.changes)
        return NearestOrder(changes, tuple(replace(one, wanted=name) for one in self.stones))


@dataclass(frozen=True)
class Plan:
    """The answer, complete in memory; ``report`` writes it."""

    status: str  # "found" | "not found" | "impossible"
    interrupted: bool
    seed: int
    effort: str
    rough: Rough
    order: Order
    stones: tuple[Stone, ...]
    sawing: SawPlan
    saw_guide: SawGuide | None  # None without a stone
    bound: Bound | None
    ruled_out_by: tuple[RuledOut, ...]
    warnings: tuple[str, ...]
    audit: tuple[str, ...]  # the checks passed, as plain sentences
    timing_s: Mapping[str, float]
    alternatives: "tuple[Alternative, ...]" = ()
    not_had: tuple[str, ...] = ()  # alternatives that were not found, as plain sentences
    objective: Objective | None = None  # None: the weight, or the clearance of a fixed size
    nearest_orders: tuple[NearestOrder, ...] = ()  # where no stone was found; the nearest first
    notes: tuple[str, ...] = ()  # what is known about better plans, besides the bound

    @property
    def stones_named(self) -> str:
        """The stones by their designs, such as "2 × Oval and Pear"."""
        counts = Counter(stone.design.title for stone in self.stones)
        named = [f"{count} × {title}" if count > 1 else title for title, count in counts.items()]
        return " and ".join([", ".join(named[:-1]), named[-1]] if len(named) > 1 else named)

    def asked_of(self, stone: Stone) -> Order:
        """The order of one of the stones."""
        return stone.order or self.order

    def holds_usual_proportion(self, stone: Stone) -> bool:
        """Whether the length-to-width is the design's usual one and nothing that was ordered says
        so: neither a value, nor a width and a length, nor one of the usual calibrated sizes."""
        known, order = stone.design.parameters.get(PROPORTION), self.asked_of(stone)
        if known is None or known.low == known.high or PROPORTION in order.parameters:
            return False
        sized = {wanted.name for wanted in self.order.wanted if wanted.calibrated}
        if ratio_range(order.size) is not None or stone.wanted in sized:
            return False
        return stone.parameters[PROPORTION] == known.default


@dataclass(frozen=True)
class Alternative:
    """Another plan for the piece: for a variant of the look ordered, or another way to saw it."""

    kind: str  # "heavier" | "more even" | "brighter", or the stones' designs
    sentence: str  # what differs from the plan
    plan: Plan
