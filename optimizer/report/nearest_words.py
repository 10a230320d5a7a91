"""The order nearest to one that nothing was found for, in plain sentences."""

from collections.abc import Iterator

from optimizer.plan_model import NearestOrder, OrderChange, Plan
from optimizer.report.html import carats
from optimizer.report.words import size
from optimizer.wording.plain_number import plain

SHOWN = 3  # orders told; plan.json has them all


def nearest_order_lines(plan: Plan) -> Iterator[str]:
    """The nearest order that works, what a search found for it, and the next nearest."""
    for number, near in enumerate(plan.nearest_orders[:SHOWN]):
        change = ", and ".join(map(_change_words, near.changes))
        begin = "The nearest order that a search found to work" if number == 0 else "Another"
        yield f"{begin}: {change}; all else as ordered. {_found_words(near)}"


def _change_words(change: OrderChange) -> str:
    wanted = f' for the wanted "{change.wanted}"' if change.wanted else ""
    if not change.key:
        table = f"[{change.table}]{wanted}" if change.table else f'the wanted "{change.wanted}"'
        return f"without {table}"
    where = f" in [{change.table}]" if change.table else ""
    if change.works is None:
        return f"without {change.key}{where}{wanted}"
    works, ordered = _value(change.works), _value(change.ordered)
    return f"{change.key} = {works}{where}{wanted} instead of {ordered}"


def _value(value: float | tuple[float, float] | str | None) -> str:
    if isinstance(value, tuple):
        low, high = value
        return plain(low) if low == high else f"[{plain(low)}, {plain(high)}]"
    return value if isinstance(value, str) else plain(value or 0.0)


def _found_words(near: NearestOrder) -> str:
    if len(near.stones) == 1:
        (stone,) = near.stones
        return f"It gives {stone.design.title}, {size(stone)}, {carats(stone.carat)}."
    total = sum(stone.carat for stone in near.stones)
    return f"It gives {len(near.stones)} stones, {carats(total)} in all."
