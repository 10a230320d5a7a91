"""How the stones of a plan look: figures for the plan, and pictures."""

from dataclasses import replace

from optimizer.offers.usual_light import clear_light
from optimizer.offers.wanted_look import look_about, with_zone
from optimizer.optics.colouring import colouring_of
from optimizer.optics.lights import light_named
from optimizer.optics.look import (
    FEW_PLACES,
    FEW_TURNS,
    PLACES,
    TURNS,
    UPRIGHT_PLACES,
    CutStone,
    Look,
    look_at,
)
from optimizer.optics.look_words import look_warnings
from optimizer.optics.picture import ACROSS, Picture, face_picture, rocked_strip
from optimizer.optics.vicinity import Vicinity
from optimizer.placement.zone_view import chosen_zone
from optimizer.plan_model import Plan, Stone
from optimizer.rough.model import Zone

LIGHT = "clouded sky"  # of a plan's pictures
_QUICK_ACROSS = 256


def with_looks(plan: Plan, *, brief: bool) -> Plan:
    """``plan`` with each stone's look and warnings about it; ``brief``: with fewer rays."""
    places, turns = (FEW_PLACES, FEW_TURNS) if brief else (PLACES, TURNS)
    stones, warnings = [], [*plan.warnings]
    for stone in plan.stones:
        order = with_zone(plan.rough, plan.asked_of(stone))
        chosen = chosen_zone(plan.rough.zones, order.zone)
        warnings += _other_boundaries(plan, chosen)
        colouring = colouring_of(plan.rough, chosen, stone.placement.pose)
        look = look_at(
            _cut(plan, stone), colouring, places=places, turns=turns, upright_places=UPRIGHT_PLACES
        )
        own = None
        if stone.usual_light is not None:
            own = clear_light(stone.placement.body, plan.rough.material)
        stones.append(replace(stone, look=look, own_light=own))
        warnings += look_warnings(look, plan.rough.material)
    return replace(plan, stones=tuple(stones), warnings=tuple(dict.fromkeys(warnings)))


def with_looks_about(plan: Plan) -> Plan:
    """``plan``, whose looks are known, with what each stone's face shows with the boundary near its
    planned place."""
    stones = []
    for stone in plan.stones:
        order = with_zone(plan.rough, plan.asked_of(stone))
        about = look_about(plan.rough, order, stone.placement)
        stones.append(replace(stone, look_about=_told_alike(about, stone.look)))
    return replace(plan, stones=tuple(stones))


def _told_alike(about: Vicinity | None, look: Look | None) -> Vicinity | None:
    """What is known about the boundary, with the figures that the look has of the planned stone:
    two samplings would tell two figures of one face."""
    zone = None if look is None else look.upright.zone
    if about is None or zone is None or not zone.distinct:
        return about
    return about.with_figures(zone)


def _other_boundaries(plan: Plan, chosen: tuple[Zone, str] | None) -> tuple[str, ...]:
    if chosen is None or len(plan.rough.zones) == 1:
        return ()
    return (
        f'The look follows the colour boundary "{chosen[0].name}" alone; the piece has '
        f"{len(plan.rough.zones)}, and a stone that holds more of them looks different.",
    )


def pictures(plan: Plan, stone: Stone) -> tuple[Picture, Picture]:
    """(the face, a strip of the face rocked) of a stone whose look is known."""
    assert stone.look is not None
    scene = _cut(plan, stone), stone.look.colouring, light_named(LIGHT)
    across = _QUICK_ACROSS if plan.effort == "quick" else ACROSS
    return face_picture(*scene, across=across), rocked_strip(*scene)


def _cut(plan: Plan, stone: Stone) -> CutStone:
    return CutStone(stone.placement.body, stone.placement.pose.width, plan.rough.material)
