"""What a plan for several stones is worth: in carats, or in money where every price is known."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from optimizer.design.model import Design
from optimizer.order import Order
from optimizer.order.several import Price, Several

Steps = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Worth:
    """What stones are worth and cuts cost. By default stones count by their carats and
    cuts cost nothing."""

    kind: str = "carat"  # by what plans are compared; or "money"
    prices: tuple[Price, ...] = ()
    cut_cost: float = 0.0  # in the currency
    currency: str = Several.currency

    @property
    def unit(self) -> str:
        """The unit of a worth."""
        return self.currency if self.kind == "money" else "ct"

    @property
    def cut(self) -> float:
        """What one saw cut costs, in that unit."""
        return self.cut_cost if self.kind == "money" else 0.0

    def of(self, design: Design, carat: float) -> float:
        """What one stone is worth."""
        if self.kind != "money":
            return carat
        return self.money_of(design, carat) or 0.0

    def money_of(self, design: Design, carat: float) -> float | None:
        """What one stone is worth in money, even where plans are compared by carats; None where no
        price covers it.

        A stone lighter than the first weight of its price is worth nothing.
        """
        steps = self._steps(design)
        if steps is None:
            return None
        return carat * next((paid for low, paid in reversed(steps) if carat >= low), 0.0)

    def next_break(self, design: Design, carat: float) -> float | None:
        """The least weight above ``carat`` at which the price per carat changes; None where there
        is none, or plans are compared by carats."""
        return next((low for low in self._breaks(design) if low > carat), None)

    def last_break(self, design: Design, carat: float) -> float:
        """The greatest weight, at most ``carat``, at which the price per carat changes: a
        refinement should not let the stone fall below it. 0 where there is none."""
        return max((low for low in self._breaks(design) if low <= carat), default=0.0)

    def covers(self, design: Design) -> bool:
        """Whether there is a price for this design."""
        return self._steps(design) is not None

    def _breaks(self, design: Design) -> tuple[float, ...]:
        if self.kind != "money":
            return ()
        return tuple(low for low, _ in self._steps(design) or ())

    def _steps(self, design: Design) -> Steps | None:
        """The price steps of the design, else of its outline, else of any stone."""
        outline = design.outline.calibrated
        name = None if outline is None else outline.name
        fits = (
            lambda price: price.design == design.name,
            lambda price: name is not None and price.outline == name,
            lambda price: price.design is None and price.outline is None,
        )
        found = (price.per_carat for fit in fits for price in self.prices if fit(price))
        return next(found, None)


def worth_of(order: Order, designs: Iterable[Design]) -> tuple[Worth, tuple[str, ...]]:
    """By what the order's plans are compared, and a warning where that is not the money that the
    order aims at: a stone with a price and one without can't be compared, so all count by
    carats."""
    several = order.several or Several()
    by_carat = Worth("carat", order.prices, several.cut_cost, several.currency)
    if several.aim != "money":
        return by_carat, ()
    without = dict.fromkeys(design.name for design in designs if not by_carat.covers(design))
    if not without:
        return replace(by_carat, kind="money"), ()
    return by_carat, (
        f"The order aims at money, but [[prices]] has none for {', '.join(without)}: plans are "
        "judged by carats. Add a price for each, or name the designs wanted.",
    )
