"""The cut sheet: tiers in the order they are cut."""

from optimizer.design.picture import picture_svg
from optimizer.guidance.model import Guidance, TierRow
from optimizer.plan_model import Stone
from optimizer.report.html import degrees, figure, paragraph, section, table
from optimizer.report.scene import Scene
from optimizer.report.words import chosen_line, stone_heading


def cut_sheet(scene: Scene) -> str:
    """For each stone: angle, settings and target of each tier, with the design's picture."""
    body = [
        stone_heading(scene.plan, index) + _stone(stone, stone.guidance)
        for index, stone in enumerate(scene.plan.stones)
        if stone.guidance
    ]
    return section("cut-sheet", "Cut sheet", *body) if body else ""


def _stone(stone: Stone, guidance: Guidance) -> str:
    picture = picture_svg(stone.placement.body, width_mm=stone.width_mm)
    gear = guidance.gear
    how = (
        f"Index gear with {gear} teeth. Setting 0 points along the length of the stone; settings "
        "count counter-clockwise as seen from above the table. Angles are measured from the girdle "
        "plane."
    )
    head = ("No.", "tier", "side", "angle", "settings", "cut to")
    return (
        paragraph(how)
        + (paragraph(chosen) if (chosen := chosen_line(stone)) else "")
        + table(head, _rows(guidance), numbers=(0, 3))
        + figure(picture, f"{stone.design.title}: {stone.design.summary}")
    )


def _rows(guidance: Guidance) -> list[tuple[str, ...]]:
    return [_row(tier) for tier in guidance.tiers]


def _row(tier: TierRow) -> tuple[str, ...]:
    settings = ", ".join(str(setting) for setting in tier.settings)
    angle = degrees(tier.angle_deg, 2)
    return (str(tier.order), tier.name, tier.side, angle, settings or "–", tier.cut_to)
