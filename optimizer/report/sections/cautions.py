"""Safety: said before the work is described."""

from optimizer.plan_model import Plan
from optimizer.report.html import bullets, section
from optimizer.report.words import cautions as caution_lines


def cautions(plan: Plan) -> str:
    """The usual cautions for the material and the bench."""
    return section("cautions", "Before you cut", bullets(caution_lines(plan)))
