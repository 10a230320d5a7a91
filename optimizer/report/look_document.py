"""The look of a stone in plan.json."""

from typing import Any

from optimizer.offers.angle_advice import AngleSetting
from optimizer.optics.figures import LightFigures, ZoneFigures
from optimizer.optics.look import Look, TurnFigures
from optimizer.optics.look_words import LEFT_OUT, colour_lines
from optimizer.plan_model import Stone
from optimizer.planning.looks import LIGHT


def look_document(look: Look | None, picture: str) -> dict[str, Any] | None:
    """Figures upright and at each turn, the colours, and what is known of them."""
    if look is None:
        return None
    colouring = look.colouring
    return {
        "picture": picture,
        "light": LIGHT,
        "boundary": colouring.zone,
        "colour": colouring.first.name if colouring.two else None,
        "seen": [_seen(one) for one in look.seen],
        "colours": [
            {
                "name": tint.name, "stated": tint.stated, "at_mm": tint.at_mm,
                "misfit": float(tint.misfit), "srgb": tone.srgb,
                "lightness": tone.lightness, "chroma": tone.chroma,
            }
            for tint, tone in zip(colouring.tints, look.tones, strict=True)
        ],
        "notes": [*colour_lines(colouring), LEFT_OUT],
    }  # fmt: skip


def brighter_document(stone: Stone) -> dict[str, Any] | None:
    """The angles planned and those that return markedly more light."""
    if stone.brighter is None:
        return None
    planned, best = stone.brighter.usual, stone.brighter.best
    return {
        "planned": _angles(planned, stone.carat),
        "best": _angles(best, stone.carat * best.volume / planned.volume),
    }


def _angles(one: AngleSetting, carat: float) -> dict[str, float]:
    return {
        "crown_deg": one.crown,
        "pavilion_deg": one.pavilion,
        "light_return_percent": 100.0 * one.light_return,
        "window_percent": 100.0 * one.window,
        "carat": float(carat),
    }


def _seen(one: TurnFigures) -> dict[str, Any]:
    about_x, about_y = one.turn
    return {
        "turned_deg": [about_x, about_y],
        **_light(one.light),
        "zone": _zone(one.zone) if one.zone is not None and one.zone.shows else None,
    }


def _light(light: LightFigures) -> dict[str, float]:
    return {
        "light_return_percent": 100.0 * light.light_return,
        "window_percent": 100.0 * light.window,
        "extinction_percent": 100.0 * light.extinction,
        "contrast": light.contrast,
    }


def _zone(zone: ZoneFigures) -> dict[str, Any]:
    return {
        "share_percent": 100.0 * zone.share,
        "halves_percent": [100.0 * share for share in zone.halves],
        "ends_percent": [100.0 * share for share in zone.ends],
        "balance_of_halves": zone.balance_of_halves,
        "balance_of_ends": zone.balance_of_ends,
    }
