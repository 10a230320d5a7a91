"""Safety, before the page describes the work."""

from optimizer.report.html import bullets, section
from optimizer.report.scene import Scene
from optimizer.report.words import cautions as caution_lines


def cautions(scene: Scene) -> str:
    """The usual cautions for the material and the bench."""
    plan = scene.plan
    return section("cautions", "Before you cut", bullets(caution_lines(plan)))
