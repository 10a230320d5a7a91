"""What holds a stone, its active constraints, in plain sentences for page and terminal."""

from collections.abc import Iterator

from optimizer.mesh import Floats
from optimizer.placement.model import (
    BOUNDARY,
    FLAW,
    SIZE,
    SURFACE,
    ActiveConstraint,
    ActiveConstraints,
    Contact,
)
from optimizer.placement.shown import BALANCE, FACE
from optimizer.plan_model import Plan, Stone
from optimizer.report.html import carats, counted, millimetres, number, point
from optimizer.rough.model import Rough

TELLING = {"carat": 0.005, "clearance": 0.0005}  # smaller gains would be written as zero
BALANCED = 0.01  # where a greater share of the forces is unbalanced, worths are approximate
ON_FACE_MM = 0.3  # a point this near to a named face's plane is said to lie on that face
MOST_FACETS = 3  # named at a corner where more meet


def numbered(held: ActiveConstraints) -> list[tuple[int, ActiveConstraint]]:
    """All holds with their numbers on page, terminal and scene, from 1."""
    return list(enumerate(held.constraints, 1))


def constraint_lines(plan: Plan) -> Iterator[str]:
    """Two or three lines: what holds the stone, and where most is gained by giving way."""
    for stone in plan.stones:
        held = stone.held
        if held is None or not held.constraints:
            continue
        yield _all_of_them(held)
        telling = [hold for hold in held.constraints if _tells(held, hold)]
        if telling:
            best = max(telling, key=lambda hold: (hold.kind != SIZE, hold.gain or 0.0))
            yield f"The most is gained at {what(plan.rough, stone, best)}: " + _brings(held, best)
        elif all(hold.gain is not None for hold in held.constraints):
            yield "If only one of these gives way, nothing is gained: the others still hold."
        if held.left_over > BALANCED:
            yield (
                "The search stopped just short of the best position, so what the places are worth "
                "is approximate."
            )


def _all_of_them(held: ActiveConstraints) -> str:
    places = sum(hold.kind == SURFACE for hold in held.constraints)
    others = [_short(hold) for hold in held.constraints if hold.kind != SURFACE]
    named = ([f"{counted(places, 'place')} on the rough's surface"] if places else []) + others
    holds = "The clearance is held by" if held.by_clearance else "The stone is held by"
    return f"{holds} {'; '.join(named)}."


def _short(hold: ActiveConstraint) -> str:
    if hold.kind == FLAW:
        return f'the flaw "{hold.name}"'
    if hold.kind == BOUNDARY:
        return f'the boundary "{hold.name}", which must not be crossed'
    return hold.name


def what(rough: Rough, stone: Stone, hold: ActiveConstraint) -> str:
    """What holds, and where: the stone's facets that it meets, and the place in the scan."""
    if not hold.contacts:
        return _short(hold)
    first = hold.contacts[0]
    held_by = _surface(rough, first) if hold.kind == SURFACE else _short(hold)
    return f"{held_by} at {point(first.point)}, against {facets(stone, first)}"


def _surface(rough: Rough, contact: Contact) -> str:
    for face in rough.reference_faces:
        if abs(float(face.plane.normal @ contact.point) - face.plane.offset) <= ON_FACE_MM:
            return f"face {face.name}"
    return "the surface"


def facets(stone: Stone, contact: Contact) -> str:
    """Facet, edge or corner of the stone that a contact meets."""
    names = [stone.placement.body.facet_names[facet] for facet in contact.facets]
    if not names:
        return "what lies below the table"
    if len(names) == 1:
        return f"the facet {names[0]}"
    if len(names) == 2:
        return f"the edge of {names[0]} and {names[1]}"
    more = " and more" if len(names) > MOST_FACETS else ""
    return f"the corner of {', '.join(names[:MOST_FACETS])}{more}"


def step(hold: ActiveConstraint) -> str:
    """How far a constraint gave way, in plain words."""
    if hold.unit == "mm":
        return f"{millimetres(hold.step)} {'wider' if hold.kind == SIZE else 'off'}"
    if hold.unit in _LOOKS:
        return f"{number(hold.step, _LOOKS[hold.unit])} {hold.unit} beyond it"
    return f"{number(hold.step, 2 if not hold.unit else 0)}{_UNITS[hold.unit]} more either way"


_EACH = {
    "mm": "a mm", "°": "a degree", "%": "a percent", "": "for an offset of 1",
    FACE: "a percent of the face", BALANCE: "for a balance of 1",
}  # fmt: skip
_LOOKS = {FACE: 0, BALANCE: 2}  # with the digits of their steps
_UNITS = {"°": "°", "%": " % of the volume", "": " of offset"}


def gain(held: ActiveConstraints, hold: ActiveConstraint) -> str:
    """The gain when a constraint gave way by its step."""
    if hold.gain is None:
        return "not tried"
    if not _tells(held, hold):
        return "nothing alone"
    in_mm = held.by_clearance and hold.kind != SIZE
    return f"+{millimetres(hold.gain, 3) if in_mm else carats(hold.gain)}"


def _brings(held: ActiveConstraints, hold: ActiveConstraint) -> str:
    of_what = " of clearance" if held.by_clearance and hold.kind != SIZE else ""
    return f"{step(hold)} is worth {gain(held, hold)}{of_what}."


def _tells(held: ActiveConstraints, hold: ActiveConstraint) -> bool:
    in_mm = held.by_clearance and hold.kind != SIZE
    least = TELLING["clearance" if in_mm else "carat"]
    return hold.gain is not None and hold.gain >= least


def worth(held: ActiveConstraints, hold: ActiveConstraint) -> str:
    """The rate of gain when a constraint begins to give way, per mm, degree, percent or offset."""
    in_mm = held.by_clearance and hold.kind != SIZE
    return f"{number(hold.worth, 3 if in_mm else 2)} {'mm' if in_mm else 'ct'} {_EACH[hold.unit]}"


def contact_labels(stone: Stone) -> list[tuple[Floats, str]]:
    """Points of the scan frame with what is written beside them: each hold's number and gain."""
    if stone.held is None:
        return []
    return [
        (hold.contacts[0].point, f"{k}: {gain(stone.held, hold)}")
        for k, hold in numbered(stone.held)
        if hold.contacts
    ]
