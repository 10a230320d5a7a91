"""The weights on the way from rough to finished stone, drawn as bars."""

from html import escape

from optimizer.report.html import carats, figure, number, section
from optimizer.report.scene import Scene
from optimizer.report.words import stone_heading

ROW = 26.0  # height of a row in the drawing's own units


def weights(scene: Scene) -> str:
    """One bar for each stage, all to one scale."""
    plan = scene.plan
    body = [
        stone_heading(plan, index) + _ladder(stone.guidance.ladder)
        for index, stone in enumerate(plan.stones)
        if stone.guidance
    ]
    return section("weights", "From rough to finished", *body) if body else ""


def _ladder(ladder: tuple[tuple[str, float], ...]) -> str:
    most = max(carat for _, carat in ladder)
    bars = "".join(_bar(k, stage, carat, most) for k, (stage, carat) in enumerate(ladder))
    tall = ROW * len(ladder)
    label = "; ".join(f"{stage} {carats(carat)}" for stage, carat in ladder)
    svg = (
        f'<svg viewBox="0 0 600 {tall:g}" role="img" aria-label="{escape(label)}" '
        f'font-size="15">{bars}</svg>'
    )
    last = ladder[-1][1]
    caption = (
        f"Of each carat that is sawn out, {number(100 * last / ladder[-2][1], 0)} % "
        "stays in the finished stone."
        if len(ladder) > 1
        else "Carats at each stage."
    )
    return figure(svg, caption, "ladder")


def _bar(row: int, stage: str, carat: float, most: float) -> str:
    top = ROW * row
    wide = 380.0 * carat / most
    return (
        f'<text class="ink" x="0" y="{top + 18:g}">{escape(stage)}</text>'
        f'<rect x="110" y="{top + 4:g}" width="{wide:.2f}" height="{ROW - 8:g}" rx="3" '
        'style="fill:var(--warm)"/>'
        f'<text class="ink" x="{118 + wide:.2f}" y="{top + 18:g}">{escape(carats(carat))}</text>'
    )
