"""What holds a stone, as plan.json tells it: ``held_by`` of each stone."""

from optimizer.documents.active_constraints import (
    ActiveConstraintRecord,
    ActiveConstraintsRecord,
    ContactRecord,
    GainRecord,
    StepRecord,
    WorthRecord,
)
from optimizer.documents.quantities import vector
from optimizer.placement.model import SIZE, ActiveConstraint, Contact
from optimizer.placement.shown import BALANCE, FACE
from optimizer.plan_model import Stone

_STEPS = {
    "mm": "mm", "°": "deg", "%": "percent", "": "offset", FACE: "face_percent", BALANCE: "balance",
}  # fmt: skip


def held_by_record(stone: Stone) -> ActiveConstraintsRecord | None:
    """``held_by`` of a stone."""
    held = stone.held
    if held is None:
        return None
    unit = "mm" if held.by_clearance else "ct"
    return ActiveConstraintsRecord(
        place_radius_mm=float(held.radius_mm),
        unbalanced_share=float(held.left_over),
        holds=tuple(
            _hold(stone, one, "ct" if one.kind == SIZE else unit) for one in held.constraints
        ),
    )


def _hold(stone: Stone, hold: ActiveConstraint, unit: str) -> ActiveConstraintRecord:
    step = _STEPS[hold.unit]
    return ActiveConstraintRecord(
        kind=hold.kind,
        name=hold.name or None,
        contacts=tuple(_contact(stone, contact) for contact in hold.contacts),
        worth=WorthRecord(value=float(hold.worth), unit=f"{unit}/{step}"),
        step=StepRecord(value=float(hold.step), unit=step),
        gain=None if hold.gain is None else GainRecord(value=float(hold.gain), unit=unit),
    )


def _contact(stone: Stone, contact: Contact) -> ContactRecord:
    names = stone.placement.body.facet_names
    return ContactRecord(
        point_mm=vector(contact.point),
        on_stone_mm=vector(contact.on_stone),
        facets=tuple(names[facet] for facet in contact.facets),
    )
