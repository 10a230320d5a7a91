"""What holds the stone where it lies, and the gain if it gives way."""

from collections.abc import Iterator

from optimizer.plan_model import Plan, Stone
from optimizer.report.constraint_words import constraint_lines, gain, numbered, step, what, worth
from optimizer.report.html import bullets, millimetres, paragraph, section, table
from optimizer.report.scene import Scene


def active_constraints(scene: Scene) -> str:
    """A small table of places, flaws and demands, the greatest gain first."""
    plan = scene.plan
    tables = [_table(plan, stone) for stone in plan.stones if stone.held and stone.held.constraints]
    if not tables:
        return ""
    return section(
        "held", "What holds the stone", bullets(constraint_lines(plan)), *tables, *_notes(plan)
    )


def _table(plan: Plan, stone: Stone) -> str:
    holding = stone.held
    assert holding is not None
    rows = [
        (
            str(k),
            what(plan.rough, stone, hold),
            step(hold),
            gain(holding, hold),
            worth(holding, hold),
        )
        for k, hold in numbered(holding)
    ]
    head = ("No.", "held by", "gives way by", "brings", "rate at first")
    return table(head, rows, numbers=(0, 3, 4))


def _notes(plan: Plan) -> Iterator[str]:
    radius = next(stone.held.radius_mm for stone in plan.stones if stone.held)
    yield paragraph(
        "Each line was tried alone: the stone was placed anew near where it lies, and all else "
        "stayed as it was, the design's angles too. A place is all surface within "
        f"{millimetres(radius, 1)} of the point named; it gives way if the skin may be thinner "
        "there, or if a chip may stay in the stone. The gains of several lines don't add up. "
        "“Nothing alone” means that the others still hold the stone. To see the places in the 3D "
        "view, tick “Contacts”.",
        "note",
    )
