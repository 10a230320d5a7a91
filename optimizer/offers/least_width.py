"""The least width of a stone where an order for several stones says nothing of its size."""

from dataclasses import replace

from optimizer.order import Order
from optimizer.order.demands import SizeDemand

SMALLEST_MM = 2.0  # the narrowest stone that is cut by hand; common practice, no source


def with_least_width(order: Order) -> Order:
    """The order with a least width where it asks for no size. Without one, the gaps between stones
    would be filled with stones too small to hold."""
    if order.size != SizeDemand():
        return order
    return replace(order, size=SizeDemand(width_mm=(SMALLEST_MM, float("inf"))))
