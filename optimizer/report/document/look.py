"""How a stone looks in plan.json: face up, at other angles, and about the planned boundary."""

from optimizer.documents.look import (
    AnglesRecord,
    BoundaryLookRecord,
    BrighterRecord,
    ColourOnFaceRecord,
    LookRecord,
    ToneRecord,
    ViewFiguresRecord,
)
from optimizer.offers.angle_advice import AngleSetting
from optimizer.optics.figures import ZoneFigures
from optimizer.optics.look import Look, TurnFigures
from optimizer.optics.look_words import LEFT_OUT, colour_lines
from optimizer.optics.vicinity import Vicinity
from optimizer.plan_model import Stone
from optimizer.planning.looks import LIGHT


def look_record(look: Look | None, picture: str) -> LookRecord | None:
    """Figures upright and at each turn, the colours, and what is known of them."""
    if look is None:
        return None
    colouring = look.colouring
    return LookRecord(
        picture=picture,
        light=LIGHT,
        boundary=colouring.zone,
        colour=colouring.first.name if colouring.two else None,
        seen=tuple(map(_view_record, look.by_turn)),
        colours=tuple(
            ToneRecord(
                name=tint.name, stated=tint.stated, at_mm=tint.at_mm, misfit=float(tint.misfit),
                srgb=tone.srgb, lightness=tone.lightness, chroma=tone.chroma,
            )
            for tint, tone in zip(colouring.tints, look.tones, strict=True)
        ),
        notes=(*colour_lines(colouring), LEFT_OUT),
    )  # fmt: skip


def _view_record(one: TurnFigures) -> ViewFiguresRecord:
    return ViewFiguresRecord(
        turned_deg=tuple(one.turn),
        light_return_percent=100.0 * one.light.light_return,
        window_percent=100.0 * one.light.window,
        extinction_percent=100.0 * one.light.extinction,
        contrast=one.light.contrast,
        zone=_colour_seen(one.zone) if one.zone is not None and one.zone.distinct else None,
    )


def _colour_seen(zone: ZoneFigures) -> ColourOnFaceRecord:
    return ColourOnFaceRecord(
        share_percent=100.0 * zone.share,
        halves_percent=tuple(100.0 * share for share in zone.halves),
        ends_percent=tuple(100.0 * share for share in zone.ends),
        balance_of_halves=zone.balance_of_halves,
        balance_of_ends=zone.balance_of_ends,
    )


def brighter_record(stone: Stone) -> BrighterRecord | None:
    """The angles planned and those that return markedly more light."""
    if stone.brighter is None:
        return None
    planned, best = stone.brighter.usual, stone.brighter.best
    return BrighterRecord(
        planned=_angles(planned, stone.carat),
        best=_angles(best, stone.carat * best.volume / planned.volume),
    )


def _angles(one: AngleSetting, carat: float) -> AnglesRecord:
    return AnglesRecord(
        crown_deg=one.crown,
        pavilion_deg=one.pavilion,
        light_return_percent=100.0 * one.light_return,
        window_percent=100.0 * one.window,
        carat=float(carat),
    )


def boundary_look_record(about: Vicinity | None) -> BoundaryLookRecord | None:
    """Shares and balances from 0 to 1; None where nothing is known."""
    if about is None:
        return None
    figures = about.figures
    return BoundaryLookRecord(
        zone=about.zone,
        colour=about.colour,
        shift_mm=float(about.shift_mm),
        face_share=float(figures.share),
        halves=tuple(float(part) for part in figures.halves),
        ends=tuple(float(part) for part in figures.ends),
        balance_of_halves=float(figures.balance_of_halves),
        balance_of_ends=float(figures.balance_of_ends),
        off_mm=float(about.off_mm),
        off_deg=float(about.off_deg),
        face_share_range=tuple(float(end) for end in about.share),
        balance_range=tuple(float(end) for end in about.balance),
    )
