"""The table of marks, which two sections show: those before the first cut, and those after."""

from collections.abc import Sequence

from optimizer.guidance.model import Mark
from optimizer.report.html import heading, point, table


def marks_table(title: str, marks: Sequence[Mark]) -> str:
    """The marks under a heading; an empty string where there are none."""
    rows = [(mark.name, mark.text, point(mark.point)) for mark in marks]
    return heading(title) + table(("Mark", "what it is", "at x, y, z in mm"), rows) if rows else ""
