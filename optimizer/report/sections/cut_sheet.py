"""The cut sheet: tiers in the order they are cut."""

from optimizer.design.picture import picture_svg
from optimizer.guidance.model import Guidance, TierRow
from optimizer.report.html import degrees, figure, paragraph, section, table
from optimizer.report.scene import Scene
from optimizer.report.words import chosen_line


def cut_sheet(scene: Scene) -> str:
    """Angle, settings and target of each tier, with the design's picture."""
    plan = scene.plan
    if plan.guidance is None or not plan.stones:
        return ""
    stone = plan.stones[0]
    picture = picture_svg(stone.placement.body, width_mm=stone.width_mm)
    gear = plan.guidance.gear
    how = (
        f"Index gear with {gear} teeth. Setting 0 points along the length of the stone; settings "
        f"count counter-clockwise as seen from above the table. Angles are from the girdle plane."
    )
    head = ("No.", "tier", "side", "angle", "settings", "cut to")
    return section(
        "cut-sheet",
        "Cut sheet",
        paragraph(how),
        paragraph(chosen) if (chosen := chosen_line(stone)) else "",
        table(head, _rows(plan.guidance), numbers=(0, 3)),
        figure(picture, f"{stone.design.title}: {stone.design.summary}"),
    )


def _rows(guidance: Guidance) -> list[tuple[str, ...]]:
    return [_row(tier) for tier in guidance.tiers]


def _row(tier: TierRow) -> tuple[str, ...]:
    settings = ", ".join(str(setting) for setting in tier.settings)
    angle = degrees(tier.angle_deg, 2)
    return (str(tier.order), tier.name, tier.side, angle, settings or "–", tier.cut_to)
