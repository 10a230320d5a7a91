"""order.toml: the order as planned, every default filled in, ready to be planned again."""

from optimizer.files.toml_file import toml_text
from optimizer.order import Order, as_table

COMMENT = "The order as it was planned, with every default filled in."


def order_toml(order: Order) -> str:
    """The order as TOML text; what was not asked for is left out."""
    return toml_text(COMMENT, as_table(order))
