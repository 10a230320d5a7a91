"""The order as it was understood, defaults included."""

from html import escape

from optimizer.plan_model import Plan
from optimizer.report.html import paragraph, section
from optimizer.report.order_file import order_toml


def asked(plan: Plan) -> str:
    """The order's own text, as order.toml has it."""
    return section(
        "asked",
        "What was asked",
        paragraph("The order with every default filled in, as it stands in order.toml."),
        f"<pre>{escape(order_toml(plan.order))}</pre>",
    )
