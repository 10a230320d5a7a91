"""What holds a stone, as plan.json tells it: ``held_by`` of each stone."""

from typing import Any

from optimizer.placement.model import SIZE, Contact, Hold
from optimizer.placement.shown import BALANCE, FACE
from optimizer.plan_model import Stone

_STEPS = {
    "mm": "mm", "°": "deg", "%": "percent", "": "offset", FACE: "face_percent", BALANCE: "balance",
}  # fmt: skip


def held_document(stone: Stone) -> dict[str, Any] | None:
    """``held_by`` of a stone in plan.json."""
    held = stone.held
    if held is None:
        return None
    unit = "mm" if held.by_clearance else "ct"
    return {
        "place_radius_mm": float(held.radius_mm),
        "unbalanced_share": float(held.left_over),
        "holds": [_hold(stone, hold, "ct" if hold.kind == SIZE else unit) for hold in held.holds],
    }


def _hold(stone: Stone, hold: Hold, unit: str) -> dict[str, Any]:
    step = _STEPS[hold.unit]
    return {
        "kind": hold.kind,
        "name": hold.name or None,
        "contacts": [_contact(stone, contact) for contact in hold.contacts],
        "worth": {"value": float(hold.worth), "unit": f"{unit}/{step}"},
        "step": {"value": float(hold.step), "unit": step},
        "gain": None if hold.gain is None else {"value": float(hold.gain), "unit": unit},
    }


def _contact(stone: Stone, contact: Contact) -> dict[str, Any]:
    names = stone.placement.body.facet_names
    return {
        "point_mm": [float(value) for value in contact.point],
        "on_stone_mm": [float(value) for value in contact.on_stone],
        "facets": [names[facet] for facet in contact.facets],
    }
