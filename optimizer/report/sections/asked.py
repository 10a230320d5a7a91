"""The order as it was understood, defaults included."""

from html import escape

from optimizer.report.html import paragraph, section
from optimizer.report.order_file import order_toml
from optimizer.report.scene import Scene


def asked(scene: Scene) -> str:
    """The order's own text, as order.toml has it."""
    plan = scene.plan
    return section(
        "asked",
        "What was asked",
        paragraph("The order with every default filled in, as it stands in order.toml."),
        f"<pre>{escape(order_toml(plan.order))}</pre>",
    )
