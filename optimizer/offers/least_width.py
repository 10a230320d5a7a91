"""How narrow a stone may be where an order says nothing of its size."""

from dataclasses import replace

from optimizer.order import Order
from optimizer.order.demands import SizeDemand

SMALLEST_MM = 2.0  # width of a stone that is still cut by hand; common practice, no source


def workable(order: Order) -> Order:
    """The order with a least width where it asks for no size at all: else the gaps that several
    stones leave are filled with stones that no hand can hold."""
    if order.size != SizeDemand():
        return order
    return replace(order, size=SizeDemand(width_mm=(SMALLEST_MM, float("inf"))))
