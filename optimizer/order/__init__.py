"""What is asked for (the order file) and what the workshop has (the workshop file)."""

from optimizer.order.demands import DirectionDemand, LookDemand, Range, SizeDemand, ZoneDemand
from optimizer.order.file import load_order
from optimizer.order.model import Order, Workshop, as_table

__all__ = [
    "DirectionDemand",
    "LookDemand",
    "Order",
    "Range",
    "SizeDemand",
    "Workshop",
    "ZoneDemand",
    "as_table",
    "load_order",
]
