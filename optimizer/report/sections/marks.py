"""The table of marks, which two sections show: those before the first cut, and those after."""

from optimizer.guidance.model import Guidance
from optimizer.report.html import heading, point, table

PLACES = {"rough": "Mark the rough before the first cut", "sawn piece": "Mark the sawn piece"}


def marks_table(guidance: Guidance, place: str) -> str:
    """The marks that belong on ``place``, "rough" or "sawn piece"; nothing where there is none."""
    rows = [(m.name, m.text, point(m.point)) for m in guidance.marks if m.on == place]
    if not rows:
        return ""
    return heading(PLACES[place]) + table(("Mark", "what it is", "at, mm (scan)"), rows)
